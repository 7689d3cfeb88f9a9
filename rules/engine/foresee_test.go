package engine_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/trend"
)

// Time in bypass is a clock: what is left of it is known, and goes down by a
// second each second, however warm the water is.
func TestBypassIsAClock(t *testing.T) {
	cfg := fixture()
	cfg.Machine.BypassVolumeM3, cfg.Machine.BypassPowerW = 0.5e-3, 1100
	r := newRig(t, cfg)
	r.running()
	r.feed(closedOutlet(), 5*time.Second)
	last := r.feed(closedOutlet(), tick).Rules[engine.Bypass]
	for range 300 {
		v := r.feed(closedOutlet(), tick).Rules[engine.Bypass]
		require.Equal(t, trend.High, v.Sure)
		require.InDelta(t, v.Limit-v.Value, v.TimeToS, 1e-9)
		require.Equal(t, v.TimeToS, v.EarliestS)
		require.Equal(t, v.TimeToS, v.LatestS)
		require.InDelta(t, last.TimeToS-tick.Seconds(), v.TimeToS, 1e-9)
		last = v
	}
}

// ramp feeds frames between two, as flow, pressure and current go when the
// trigger moves, and tells which fast rules foretell anything until then.
func ramp(r *rig, from, to frame.Frame, d time.Duration, saw map[engine.RuleID]trend.Sure) {
	start := r.now
	for r.now-start < d {
		k := math.Min(1, float64(r.now-start)/float64(1500*time.Millisecond))
		f := to
		for c := range f.Samples {
			if !frame.Channel(c).Digital() {
				a, b := from.Samples[c].Value, to.Samples[c].Value
				f.Set(frame.Channel(c), a+k*(b-a))
			}
		}
		v := r.feed(f, tick)
		for i := range v.Rules {
			if x := &v.Rules[i]; x.Rule.Spec().Pace == engine.Fast && x.Rule != engine.BreakerTime {
				saw[x.Rule] = max(saw[x.Rule], x.Sure)
			}
		}
	}
}

// A pull or a release of the trigger moves everything: normal work, and no way
// to a limit. A way that goes on is one.
func TestAStepIsNoTrend(t *testing.T) {
	for _, gauge := range []bool{true, false} {
		cfg := fixture()
		cfg.Signals[frame.Trigger].Fitted = gauge
		r := newRig(t, cfg)
		r.running()
		r.feed(healthy(), 20*time.Second)
		saw := map[engine.RuleID]trend.Sure{}
		for range 3 {
			ramp(r, healthy(), closedOutlet(), 15*time.Second, saw)
			ramp(r, closedOutlet(), healthy(), 15*time.Second, saw)
		}
		for rule, sure := range saw {
			require.Equal(t, trend.None, sure, "%s, trigger switch %v", rule, gauge)
		}
	}
	r := newRig(t, fixture())
	r.running()
	var v *engine.Verdicts
	for i := range 80 {
		f := healthy()
		f.Set(frame.InletPressure, 250e3-float64(i)*1e3)
		v = r.feed(f, tick)
	}
	require.Equal(t, machine.Running, v.Machine)
	require.Equal(t, trend.High, v.Rules[engine.InletLow].Sure, "a hose that is being kinked")
}

// At 16 A the heat comes to (16/17.25)^2 = 0.860 of the capacity and stays
// there; at 21 A it comes to 1.482, and from a cold motor to 1 in
// 400 ln(1.482/0.482) = 449 s. Source: IEC 60255-149, cold curve.
func TestMotorHeatForeseesByItsModel(t *testing.T) {
	cold := func() *rig {
		r := newRig(t, fixture())
		r.feed(stopped(), 4000*time.Second)
		return r
	}
	r := cold()
	r.feed(at(healthy(), 16), 10*time.Second)
	for range 600 {
		v := r.feed(at(healthy(), 16), time.Second).Rules[engine.MotorHeat]
		require.Equal(t, trend.None, v.Sure, "it levels off below its limit")
		require.InDelta(t, 0.860, usedTerm(t, &v, engine.TermHeatLevel), 0.001)
	}
	r = cold()
	v := r.feed(at(healthy(), 21), 5*time.Second).Rules[engine.MotorHeat]
	require.Equal(t, trend.High, v.Sure)
	require.InDelta(t, 449-5, v.TimeToS, 2)
}

func usedTerm(t *testing.T, v *engine.Verdict, term engine.Term) float64 {
	for _, u := range v.Used() {
		if u.Term == term {
			return u.Value
		}
	}
	require.Fail(t, "not said", "%s", term)
	return 0
}
