package hardware

import (
	"errors"
	"fmt"
	"sync"
	"time"

	"headroom/rules/engine"
	"headroom/rules/machine"
	"headroom/sensors/outputs"
)

// trialFor is how long one word of a person keeps an output driven. A page says
// it again while the button is held; when it falls silent the output goes back
// by itself.
const trialFor = 1200 * time.Millisecond

// The outputs by the names that a trial knows them by.
const (
	beaconName = "beacon"
	hornName   = "horn"
	stopName   = "stop"
)

// trial is what a person tries. It drives beacon and horn, and opens the stop
// relay; it never closes one, which is the latch's word alone. It ends at once
// when the machine runs, or when what it does can't be told.
type trial struct {
	mu sync.Mutex
	// until is when each output goes back.
	until map[string]time.Time
	reset bool
	// presses tells a word that comes late from a new press.
	presses presses
	// Of the last step: whether trying is refused and whether the machine may
	// run.
	refused bool
	seen    bool
}

// tried is what a trial adds in one step.
type tried struct{ beacon, horn, stop, reset bool }

// step is called by the tick with what it found.
func (t *trial) step(v *engine.Verdicts) (out tried) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.seen, t.refused = true, v.Machine.Turning() || v.Machine == machine.Unknown || v.Machine >= machine.NumStates
	out.reset, t.reset = t.reset, false
	if t.refused {
		clear(t.until)
		return out
	}
	now := time.Now()
	out.beacon, out.horn, out.stop = t.held(beaconName, now), t.held(hornName, now), t.held(stopName, now)
	return out
}

func (t *trial) held(name string, now time.Time) bool { return now.Before(t.until[name]) }

// light puts the trial's lamps on top of what the table says.
func (t tried) light(s *outputs.Signal) {
	steady, _ := outputs.PatternByName("steady")
	if t.beacon {
		s.Beacon = steady
	}
	if t.horn {
		s.Horn = steady
	}
}

var (
	errTrialRuns = errors.New("the machine runs, or what it does can't be told: stop it first")
	errNoTick    = errors.New("nothing has been read yet")
)

// Output is one output of the config as it is commanded; an output is never
// read back.
type Output struct {
	Name, Label string
	// Energised is its commanded level, Held true while a person tries it.
	Energised, Held bool
	// Does says what holding it does.
	Does string
	// CanReset marks the stop relay, Waiting that it waits for a reset.
	CanReset, Waiting bool
}

// TestOutputs lists the outputs of the config with their commanded levels.
func (o *Outputs) TestOutputs() (out []Output) {
	beacon, horn, stop := o.keeper.Energised()
	add := func(on bool, name, label, does string, energised bool) {
		if on {
			out = append(out, Output{Name: name, Label: label, Does: does, Energised: energised, Held: o.trial.holds(name)})
		}
	}
	add(o.cfg.Beacon.On, beaconName, "Beacon", "Hold: beacon on", beacon)
	add(o.cfg.Horn.On, hornName, "Horn", "Hold: horn on", horn)
	add(o.reset != nil, stopName, "Stop relay", "Open it; a reset closes it again", stop)
	if o.reset != nil {
		last := &out[len(out)-1]
		last.CanReset, last.Waiting = true, o.waiting.Load()
	}
	return out
}

func (t *trial) holds(name string) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.held(name, time.Now())
}

// maxPress is the longest name of a press, in bytes.
const maxPress = 64

// HoldOutput drives an output for a moment. press is the page's name for this
// time that the button is down, empty for one without a script: a word of a
// press that was let go of does nothing. began is true once for each press, for
// who tells of it.
func (o *Outputs) HoldOutput(name, press string) (began bool, err error) {
	known := map[string]bool{beaconName: o.cfg.Beacon.On, hornName: o.cfg.Horn.On, stopName: o.reset != nil}
	if !known[name] {
		return false, fmt.Errorf("there is no output %q here", name)
	}
	if len(press) > maxPress {
		return false, fmt.Errorf("cannot try the %s: the press has a name of more than %d characters", name, maxPress)
	}
	o.trial.mu.Lock()
	defer o.trial.mu.Unlock()
	if err := o.trial.why(); err != nil {
		return false, fmt.Errorf("cannot try the %s: %w", name, err)
	}
	began, late := o.trial.presses.holds(name, press)
	if late {
		return false, nil
	}
	if o.trial.until == nil {
		o.trial.until = map[string]time.Time{}
	}
	o.trial.until[name] = time.Now().Add(trialFor)
	return began, nil
}

// why says why nothing can be tried now.
func (t *trial) why() error {
	switch {
	case !t.seen:
		return errNoTick
	case t.refused:
		return errTrialRuns
	}
	return nil
}

// ReleaseOutput ends a trial at once, and with it the press.
func (o *Outputs) ReleaseOutput(name, press string) {
	o.trial.mu.Lock()
	defer o.trial.mu.Unlock()
	if len(press) <= maxPress {
		o.trial.presses.release(name, press)
	}
	delete(o.trial.until, name)
}

// ResetStop asks the latch to let the machine run again, as one press of the
// reset button does: it is refused while a reason to stop stands.
func (o *Outputs) ResetStop() error {
	if o.reset == nil {
		return errors.New("no stop relay is configured")
	}
	o.trial.mu.Lock()
	defer o.trial.mu.Unlock()
	if !o.trial.seen {
		return errNoTick
	}
	o.trial.reset = true
	return nil
}
