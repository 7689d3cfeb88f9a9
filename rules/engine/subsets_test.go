package engine_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// choice are the channels that bear on whether the pump turns; each machine has
// its own part of them.
var choice = [...]frame.Channel{
	frame.InletPressure, frame.Flow, frame.OutletPressure, frame.MotorCurrent, frame.ShaftSpeed, frame.Running, frame.PowerPresent, frame.Vibration,
}

// subsets calls f with every part of the choice.
func subsets(f func(fitted []frame.Channel)) {
	for bits := range 1 << len(choice) {
		fitted := []frame.Channel{frame.WaterTemp}
		for i, c := range choice {
			if bits>>i&1 == 1 {
				fitted = append(fitted, c)
			}
		}
		f(fitted)
	}
}

// wellAtRest reports verdicts that tell a person that the pump stands and all
// is well.
func wellAtRest(v *engine.Verdicts) bool {
	return v.Level == engine.Normal && v.Blind == 0 && v.Machine != machine.Unknown && !v.Machine.Turning()
}

// Whatever is fitted and whichever channel lies: a pump at work is never told
// to stand with all well, where anything that is fitted shows otherwise.
func TestNoSubsetCallsATurningPumpStopped(t *testing.T) {
	lies := [][]frame.Channel{nil, {frame.MotorCurrent}, {frame.ShaftSpeed}, {frame.Running}, {frame.MotorCurrent, frame.ShaftSpeed}}
	runs := 0
	subsets(func(fitted []frame.Channel) {
		e, err := engine.New(only(fixture(), fitted...))
		require.NoError(t, err)
		has := func(c frame.Channel) bool { return slices.Contains(fitted, c) }
		for _, liars := range lies {
			if slices.ContainsFunc(liars, func(c frame.Channel) bool { return !has(c) }) {
				continue
			}
			honest := func(c frame.Channel) bool { return has(c) && !slices.Contains(liars, c) }
			shows := has(frame.Flow) && has(frame.OutletPressure)
			if len(liars) < 2 {
				shows = shows || honest(frame.MotorCurrent) || honest(frame.ShaftSpeed) || honest(frame.Running)
			}
			if !shows {
				continue // nothing that is fitted could show it
			}
			for _, late := range []bool{false, true} {
				runs++
				r := &rig{t: t, e: e}
				r.feed(stopped(), 3*time.Second)
				if late {
					r.feed(healthy(), 15*time.Second)
				}
				f := healthy()
				for _, c := range liars {
					f.Set(c, 0)
				}
				v := r.feed(f, 15*time.Second)
				require.False(t, wellAtRest(v), "fitted %v, lying %v, late %v: %s", fitted, liars, late, v.Machine)
			}
		}
	})
	require.Greater(t, runs, 500)
}

// The other way about: what is left behind by a stop, and water that runs
// through a standing pump, accuse no sensor on any machine. Flow alone, however
// much, shows nothing: that is a purge.
func TestNoSubsetDoubtsAPumpAtRest(t *testing.T) {
	held := set(stopped(), frame.OutletPressure, 8.8e6)
	purge := set(stopped(), frame.Flow, 7.6e-3/60)
	subsets(func(fitted []frame.Channel) {
		e, err := engine.New(only(fixture(), fitted...))
		require.NoError(t, err)
		tells := slices.ContainsFunc(fitted, func(c frame.Channel) bool {
			return c == frame.MotorCurrent || c == frame.ShaftSpeed || c == frame.Running
		})
		for _, rest := range []frame.Frame{stopped(), held, purge} {
			r := &rig{t: t, e: e}
			r.feed(stopped(), 3*time.Second)
			r.feed(healthy(), 15*time.Second)
			v := r.feed(rest, 12*time.Second)
			for c, s := range v.Samples {
				require.NotEqual(t, frame.Suspect, s.Status, "fitted %v: %s", fitted, frame.Channel(c))
			}
			if tells {
				require.Contains(t, []machine.State{machine.Stopped, machine.WaterOn}, v.Machine, "fitted %v", fitted)
			}
		}
	})
}
