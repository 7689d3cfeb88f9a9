package scenario

import (
	"fmt"
	"strings"
	"time"

	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors/plant"
)

// Scenario is one job, read and checked.
type Scenario struct {
	// Name is the file's name, for messages; Title is for people.
	Name, Title string
	// Seed makes the noise, so that a run can be repeated to the last bit.
	Seed uint64
	// Duration of the whole job.
	Duration time.Duration
	// Machine is the plant and Start its inputs before the first step.
	Machine plant.Config
	Start   plant.Inputs
	// Steps and Faults in order of time.
	Steps  []Step
	Faults []Fault
	// Expects lists the alarms that must or may come; no other may.
	Expects []Expect
	// Config is the part of the daemon's config in which this machine differs
	// from the default, as the TOML that the config's own reader takes; nil
	// where it doesn't. Nothing here looks into it.
	Config []byte
	// Baseline is the machine's volumetric efficiency when it was sound.
	Baseline []Worn
}

// Worn is one point of a baseline of volumetric efficiency.
type Worn struct {
	// SpeedHz, DropPa across the pump, TempK of the water, and the Efficiency.
	SpeedHz, DropPa, TempK, Efficiency float64
}

// UnmarshalText reads a line such as "1725 rpm, 8.2 MPa, 15 °C: 95 %".
func (w *Worn) UnmarshalText(text []byte) error {
	at, share, ok := strings.Cut(string(text), ":")
	parts := strings.Split(at, ",")
	if !ok || len(parts) != 3 {
		return fmt.Errorf(`%q: write for example "1725 rpm, 8.2 MPa, 15 °C: 95 %%"`, text)
	}
	for i, f := range []struct {
		q    units.Quantity
		text string
		into *float64
	}{
		{units.Speed, parts[0], &w.SpeedHz}, {units.Pressure, parts[1], &w.DropPa},
		{units.Temperature, parts[2], &w.TempK}, {units.Fraction, share, &w.Efficiency},
	} {
		v, err := units.Parse(f.q, strings.TrimSpace(f.text))
		if err != nil {
			return fmt.Errorf("the baseline's part %d: %w", i+1, err)
		}
		*f.into = v
	}
	return nil
}

// Step is one act of a person.
type Step struct {
	At     time.Duration
	Action Action
	// Amount is a share of 0 to 1, or a flow in m3/s for FillTank.
	Amount float64
}

// Action is what people do.
type Action uint8

// The actions; each sets one thing, with Amount 1 for on or open.
const (
	Tap Action = iota
	Switch
	Trigger
	Nozzle
	ResetBreaker
	FillTank
)

// Fault is something that goes wrong, from At, growing to its full Amount over
// Ramp, until Until (0: to the end).
type Fault struct {
	Kind            FaultKind
	At, Ramp, Until time.Duration
	// Amount in SI; what it means depends on the kind.
	Amount float64
	// Channel is the sensor concerned, for the kinds that need one.
	Channel frame.Channel
}

// share tells how far a fault has grown at a time: 0 before it, 1 in full.
func (f *Fault) share(at time.Duration) float64 {
	switch {
	case at < f.At || f.Until > 0 && at >= f.Until:
		return 0
	case at-f.At >= f.Ramp:
		return 1
	}
	return float64(at-f.At) / float64(f.Ramp)
}

// Inputs fills in what the plant is given at a time since the start. It
// depends on the time alone, so that a scenario can be entered anywhere.
func (s *Scenario) Inputs(at time.Duration, in *plant.Inputs) {
	*in = s.Start
	for i := range s.Steps {
		if s.Steps[i].At > at {
			break
		}
		s.Steps[i].apply(at, in)
	}
	for i := range s.Faults {
		f := &s.Faults[i]
		if grown := f.share(at); grown > 0 {
			f.apply(s, grown, in)
		}
	}
}

func (st *Step) apply(at time.Duration, in *plant.Inputs) {
	switch st.Action {
	case Tap:
		in.TapOpen = st.Amount
	case Switch:
		in.SwitchOn = st.Amount > 0
	case Trigger:
		in.TriggerOpen = st.Amount > 0
	case Nozzle:
		in.NozzleOff = st.Amount == 0
	case ResetBreaker:
		in.ResetBreaker = at-st.At < time.Second // a push, no state
	case FillTank:
		in.TankFillM3s = st.Amount
	}
}

// Trouble is what a sensor's own fault does to its reading.
type Trouble struct {
	// WireOff: no signal at all. Stuck: the last value stays.
	WireOff, Stuck bool
	// Drift is added to the value, SI.
	Drift float64
}

// Trouble returns what ails a channel's sensor at a time.
func (s *Scenario) Trouble(c frame.Channel, at time.Duration) (tr Trouble) {
	for i := range s.Faults {
		f := &s.Faults[i]
		grown := f.share(at)
		if grown == 0 || f.Channel != c && f.Kind != BusOff {
			continue
		}
		switch f.Kind {
		case WireOff:
			tr.WireOff = true
		case BusOff:
			tr.WireOff = tr.WireOff || !c.Digital()
		case SensorStuck:
			tr.Stuck = true
		case SensorDrift:
			tr.Drift += grown * f.Amount
		}
	}
	return tr
}
