package engine

import (
	"fmt"
	"time"

	"headroom/rules/frame"
	"headroom/rules/machine"
)

// Config is everything the engine must know about one machine, in SI. It is
// fixed for the life of an Engine: other limits are another Engine.
type Config struct {
	Machine Machine
	Signals [frame.NumChannels]Signal
	Rules   [NumRules]Limit
	States  machine.Config
	Normal  OwnNormal
	Plant   Plant
	// MaxGap is the longest time between two frames that is bridged: beyond it
	// delays and trends start anew and no exposure is counted.
	MaxGap time.Duration
	// QuietReturn is the highest level whose alarms, once gone, need no
	// acknowledgement.
	QuietReturn Level
	// SensorOn and SensorOff are the delays of the sensors' alarms.
	SensorOn, SensorOff time.Duration
}

// Machine is the pump's plate and its surroundings. A figure of 0 means not
// known, and a rule that needs it says so.
type Machine struct {
	// DisplacementM3 per revolution.
	DisplacementM3 float64
	// RatedFlowM3s and RatedSpeedHz from the plate.
	RatedFlowM3s, RatedSpeedHz float64
	// VolumetricEff of the healthy pump, 0 to 1.
	VolumetricEff float64
	// RatedOutletPa gauge.
	RatedOutletPa float64
	// UnloaderOpensPa gauge is the outlet pressure at which the unloader begins
	// to pass water back, 0 when not known.
	UnloaderOpensPa float64
	// CircuitA is the breaker's rating.
	CircuitA float64
	// AltitudeM above sea level, for the air pressure where no barometer is
	// fitted.
	AltitudeM float64
	// InletGaugeHeightM is the height of the inlet gauge over the pump's
	// datum, and InletBoreM the bore where it sits, for the velocity head.
	InletGaugeHeightM, InletBoreM float64
	// NPSHRequired are the pump's own points, by rising speed; NPSHPoints says
	// how many. With none, AssumedNPSHRM is used and marked as assumed.
	NPSHRequired  [8]NPSHPoint
	NPSHPoints    int
	AssumedNPSHRM float64
	// BypassVolumeM3 is the water in the bypass loop and BypassPowerW the
	// power that heats it; 0 when not known.
	BypassVolumeM3, BypassPowerW float64
	// RunCurrentA, RunSpeedHz and RunOutletPa are the figures above which the
	// pump counts as turning; 0 when the channel shall not tell.
	RunCurrentA, RunSpeedHz, RunOutletPa float64
	// FlowOnM3s is the flow above which water counts as flowing.
	FlowOnM3s float64
	// FedInletPa gauge: above it no flow means a closed outlet. Every value is
	// a limit, 0 and suction too.
	FedInletPa float64
}

// NPSHPoint is one point of the pump's NPSH required.
type NPSHPoint struct{ SpeedHz, HeadM float64 }

// Signal is how one channel's samples are treated before the rules see them.
type Signal struct {
	// Fitted: the machine has the channel.
	Fitted bool
	// Min and Max are the band a working sensor can give, SI.
	Min, Max float64
	// SmoothS is the time constant of a first-order filter; its delay is the
	// same number of seconds. 0 for none.
	SmoothS float64
	// StuckAfter is how long a value may stay the same to the last bit while
	// the pump turns; 0 switches the check off.
	StuckAfter time.Duration
	// MinNoise is the least RMS noise of a live sensor while the pump turns,
	// MaxNoise the most of a sound one, SI; 0 switches the check off.
	MinNoise, MaxNoise float64
	// MaxRate is the fastest that the quantity can move, SI per second; 0
	// switches the check off.
	MaxRate float64
	// Bus numbers the bus, port or chip that the sensor shares with those of
	// the same number; 0 for a sensor that shares none.
	Bus uint8
}

// Limit is one rule's limits and times. Values are in the rule's quantity, SI.
type Limit struct {
	// On switches the rule on.
	On bool
	// Warn and Act are the two stages' limits; HasWarn and HasAct say whether
	// they are set.
	Warn, Act       float64
	HasWarn, HasAct bool
	// WarnLevel and ActLevel are the stages' severities.
	WarnLevel, ActLevel Level
	// Span is the distance from the outermost limit that counts as ample
	// headroom: the share is 1 there.
	Span float64
	// Deadband is how far inside the limit the value must come before the
	// alarm may clear.
	Deadband float64
	// WarnOn, ActOn and Off are the delays.
	WarnOn, ActOn, Off time.Duration
	// Latch keeps the act stage's alarm until a person resets it.
	Latch bool
	// Source says where the limit comes from, for people.
	Source string
	// Lacks is the config's key of the figure that the rule can't judge
	// without, for people; empty where it has them all. A rule that lacks one
	// may be on without a limit or a span: they were shares of it.
	Lacks string
}

// Outer returns the outermost limit that is set.
func (l *Limit) Outer() (limit float64, ok bool) {
	if l.HasAct {
		return l.Act, true
	}
	return l.Warn, l.HasWarn
}

// OwnNormal is how the machine's own normal is learned, for the departure rule.
type OwnNormal struct {
	// LearnS is how many seconds of running are learned from; 0 switches the
	// rule off.
	LearnS float64
	// WindowS is the memory of the mean that is compared.
	WindowS float64
	// Channels are those that are compared.
	Channels [frame.NumChannels]bool
}

// Validate reports the first thing that would make the engine misbehave. The
// config package finds all mistakes with their lines; this is the last guard.
func (c *Config) Validate() error {
	for r := range c.Rules {
		l := &c.Rules[r]
		if !l.On {
			continue
		}
		if _, ok := l.Outer(); !ok && l.Lacks == "" {
			return fmt.Errorf("rule %s is on but has no limit: set warn or act", RuleID(r))
		}
		if l.Span <= 0 && l.Lacks == "" {
			return fmt.Errorf("rule %s: span must be above 0", RuleID(r))
		}
		if l.Deadband < 0 || l.WarnOn < 0 || l.ActOn < 0 || l.Off < 0 {
			return fmt.Errorf("rule %s: deadband and delays must not be negative", RuleID(r))
		}
	}
	if c.MaxGap <= 0 {
		return fmt.Errorf("max gap must be above 0")
	}
	if c.Machine.NPSHPoints < 0 || c.Machine.NPSHPoints > len(c.Machine.NPSHRequired) {
		return fmt.Errorf("the pump has %d points of NPSH required, at most %d fit", c.Machine.NPSHPoints, len(c.Machine.NPSHRequired))
	}
	return nil
}
