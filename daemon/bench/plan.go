package bench

import (
	"fmt"

	"headroom/rules/frame"
	"headroom/rules/units"
)

// Kind is what a step of the test is about.
type Kind string

// The kinds of step.
const (
	// Rest is the machine off and vented: gauges must show nothing.
	Rest Kind = "rest"
	// NoLoad is the pump turning with the outlet wide open.
	NoLoad Kind = "no_load"
	// Load is a pressure set by a load valve or by the size of the nozzle, the
	// unloader out of the way: all the flow leaves through the outlet.
	Load Kind = "load"
	// Unloader is a pressure set by the unloader with the own nozzle; a part of
	// the flow goes round, so that it tells of current and not of capacity.
	Unloader Kind = "unloader"
	// Own is the machine's own nozzle with the unloader as it works.
	Own Kind = "own_nozzle"
	// Speed is a point at plate pressure and another speed, for engines.
	Speed Kind = "speed"
	// Relief is the outlet closed with the pump turning.
	Relief Kind = "relief"
	// Bypass is that for longer: the water going round warms.
	Bypass Kind = "bypass"
	// Leak is the outlet closed and the pump standing.
	Leak Kind = "leak_down"
	// Inlet is one position of the valve in the inlet, less open each time.
	Inlet Kind = "inlet"
	// Bucket is a timed bucket under the nozzle, told by a person.
	Bucket Kind = "bucket"
	// Cup is what drips from the packing, told by a person.
	Cup Kind = "packing_cup"
	// Reference is a reference gauge beside the outlet's, told by a person.
	Reference Kind = "reference_gauge"
)

// entered reports whether a person tells the value.
func (k Kind) entered() bool { return k == Bucket || k == Cup || k == Reference }

// Step is one step of a plan.
type Step struct {
	// ID within the plan, and Kind.
	ID   string `json:"id"`
	Kind Kind   `json:"kind"`
	// TargetPa is the outlet pressure to set, gauge; BandPa how near it must
	// be. TargetHz and BandHz likewise the speed, for Speed.
	TargetPa float64 `json:"target_pa,omitempty"`
	BandPa   float64 `json:"band_pa,omitempty"`
	TargetHz float64 `json:"target_hz,omitempty"`
	BandHz   float64 `json:"band_hz,omitempty"`
	// WindowS is how long a point is.
	WindowS float64 `json:"window_s"`
	// Optional steps may be left out of a whole test.
	Optional bool `json:"optional,omitempty"`
}

// Plan is a list of steps.
type Plan struct {
	Steps []Step `json:"steps"`
	// MaxInlet is how many positions of the inlet valve are tried at most.
	MaxInlet int `json:"max_inlet,omitempty"`
	// InletFall is the fall of capacity that ends the inlet test, as a share:
	// a little beyond the 3 % that is sought.
	InletFall float64 `json:"inlet_fall,omitempty"`
}

// Choice says what a plan is to hold.
type Choice struct {
	// LoadShares are the pressures as shares of the plate's.
	LoadShares []float64
	// UnloaderShares likewise, set by the unloader.
	UnloaderShares []float64
	// SpeedShares are further speeds as shares of the plate's.
	SpeedShares []float64
	// Inlet, Bypass, LeakDown and ByHand (bucket, cup, reference gauge) switch
	// parts on.
	Inlet, Bypass, LeakDown, ByHand bool
	// WindowS is the length of a point; 0 for 30 s.
	WindowS float64
}

// DefaultChoice is the whole test of a pump with a fixed speed: five pressures,
// the own nozzle, relief, bypass, leak-down, inlet, and what is told by hand.
// Common practice, no source.
func DefaultChoice() Choice {
	return Choice{LoadShares: []float64{0.25, 0.5, 0.75, 0.9, 1}, Inlet: true, Bypass: true, LeakDown: true, ByHand: true}
}

// settle fills the window in and names what can't be.
func (c *Choice) settle() error {
	if c.WindowS == 0 {
		c.WindowS = 30
	}
	if !(c.WindowS >= 10 && c.WindowS <= 600) {
		return fmt.Errorf("a window of %v s can't be: give 10 to 600", c.WindowS)
	}
	for _, shares := range [][]float64{c.LoadShares, c.UnloaderShares, c.SpeedShares} {
		for _, s := range shares {
			if !(s >= 0.1 && s <= 1.1) {
				return fmt.Errorf("a share of %v of the plate can't be: give 0.1 to 1.1", s)
			}
		}
	}
	if len(c.LoadShares) < 2 {
		return fmt.Errorf("%d load points make no line: give two pressures or more", len(c.LoadShares))
	}
	return nil
}

// NewPlan makes a plan for a pump. The error names a share that can't be.
func NewPlan(p Pump, c Choice) (Plan, error) {
	if err := c.settle(); err != nil {
		return Plan{}, err
	}
	plan := Plan{MaxInlet: 12, InletFall: 0.036}
	add := func(s Step) {
		if s.WindowS == 0 {
			s.WindowS = c.WindowS
		}
		plan.Steps = append(plan.Steps, s)
	}
	add(Step{ID: "rest", Kind: Rest, WindowS: 10})
	add(Step{ID: "no_load", Kind: NoLoad})
	for i, s := range c.LoadShares {
		add(Step{ID: fmt.Sprintf("load_%d", i+1), Kind: Load, TargetPa: s * p.PressurePa, BandPa: 0.03 * p.PressurePa})
	}
	for i, s := range c.SpeedShares {
		add(Step{ID: fmt.Sprintf("speed_%d", i+1), Kind: Speed, Optional: true, TargetPa: p.PressurePa, BandPa: 0.05 * p.PressurePa,
			TargetHz: s * p.SpeedHz, BandHz: 0.03 * p.SpeedHz})
	}
	plan.inlet(c, add)
	add(Step{ID: "own_nozzle", Kind: Own})
	for i, s := range c.UnloaderShares {
		add(Step{ID: fmt.Sprintf("unloader_%d", i+1), Kind: Unloader, Optional: true, TargetPa: s * p.PressurePa, BandPa: 0.04 * p.PressurePa})
	}
	if c.ByHand {
		add(Step{ID: "bucket", Kind: Bucket})
		add(Step{ID: "packing_cup", Kind: Cup})
		add(Step{ID: "reference_gauge", Kind: Reference})
	}
	add(Step{ID: "relief", Kind: Relief, WindowS: 10})
	if c.Bypass {
		add(Step{ID: "bypass", Kind: Bypass, WindowS: 60})
	}
	if c.LeakDown {
		add(Step{ID: "leak_down", Kind: Leak, WindowS: 60})
	}
	return plan, nil
}

func (p *Plan) inlet(c Choice, add func(Step)) {
	if c.Inlet {
		add(Step{ID: "inlet", Kind: Inlet})
	}
}

// Todo says what a person is to do for a step, in words.
func (s Step) Todo(sys units.System, p *Pump) string {
	target := fine(units.Pressure, sys, s.TargetPa)
	switch s.Kind {
	case Rest:
		return "Switch the pump off, close the tap, and let the pressure off at inlet and outlet: every gauge must show nothing."
	case NoLoad:
		return "Open the tap and the load valve fully (or take the nozzle off), then switch the pump on: the outlet stays open."
	case Load:
		return "Set the outlet to " + target + " with the load valve or the next smaller nozzle. The unloader must not pass."
	case Speed:
		return "Set the shaft to " + fine(units.Speed, sys, s.TargetHz) + ", then the outlet to " + target + " with the load valve."
	case Unloader:
		return "With the machine's own nozzle, turn the unloader to " + target + "."
	case Own:
		return "Fit the machine's own nozzle and set the unloader as it works."
	case Relief:
		return "Close the outlet slowly with the pump turning, until unloader or relief valve let all water by. Stand clear."
	case Bypass:
		return "Leave the outlet closed and the pump turning for another minute, and watch the water's temperature."
	case Leak:
		return "Switch the pump off with the outlet closed and the pressure on it."
	case Inlet:
		return "Hold the outlet at " + fine(units.Pressure, sys, 0.75*p.PressurePa) + " and close the valve in the inlet a little more than before."
	case Bucket:
		return "With the own nozzle, catch the water of one minute or more in a bucket, and enter volume over time."
	case Cup:
		return "With the own nozzle, catch what drips from the packing for five minutes, and enter volume over time; 0 if nothing does."
	case Reference:
		return "With the own nozzle, read a reference gauge at the outlet, and enter what it shows."
	}
	return ""
}

// needs lists the channels that a step can't do without.
func (s Step) needs() []frame.Channel {
	switch s.Kind {
	case Rest, Relief, Leak:
		return []frame.Channel{frame.OutletPressure}
	case Bypass:
		return []frame.Channel{frame.WaterTemp}
	case Inlet:
		return []frame.Channel{frame.Flow, frame.OutletPressure, frame.InletPressure, frame.WaterTemp}
	case Bucket, Cup, Reference:
		return nil
	}
	return []frame.Channel{frame.Flow, frame.OutletPressure}
}
