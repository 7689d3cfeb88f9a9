package rig_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"runtime"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/bench"
	"headroom/daemon/bench/rig"
	"headroom/rules/frame"
)

// The proof: many seeded tests of simulated pumps with known truth, each with
// sensors whose lasting errors are drawn anew from their stated limits.
var (
	proofTests = flag.Int("bench.tests", 1000, "how many tests the proof runs")
	proofSeed  = flag.Uint64("bench.seed", 1, "the proof's seed")
)

// pumpsEach is how many pumps are built in each condition.
const pumpsEach = 20

// tally counts the outcomes.
type tally struct {
	covered, shown                [bench.NumFigures]int
	checks, notShown, notTested   int
	falsePass, falseFail, verdict int
	partial, doubted, spoilt      int
	wrong                         []string
}

func (a *tally) add(b *tally) {
	for f := range a.covered {
		a.covered[f] += b.covered[f]
		a.shown[f] += b.shown[f]
	}
	a.checks, a.notShown, a.notTested = a.checks+b.checks, a.notShown+b.notShown, a.notTested+b.notTested
	a.falsePass, a.falseFail, a.verdict = a.falsePass+b.falsePass, a.falseFail+b.falseFail, a.verdict+b.verdict
	a.partial, a.doubted, a.spoilt = a.partial+b.partial, a.doubted+b.doubted, a.spoilt+b.spoilt
	a.wrong = append(a.wrong, b.wrong...)
}

// spoil gives one sensor an error far beyond its class, or one of the kinds
// that show in the readings.
func spoil(s *rig.Sensors, p *bench.Pump, rng *rand.Rand) frame.Channel {
	sign := float64(1 - 2*rng.IntN(2))
	switch rng.IntN(3) {
	case 0:
		s.Spoil(frame.OutletPressure, sign*(0.03+0.05*rng.Float64())*p.PressurePa, 0)
		return frame.OutletPressure
	case 1:
		s.Spoil(frame.OutletPressure, 0, sign*(0.04+0.06*rng.Float64()))
		return frame.OutletPressure
	}
	s.Spoil(frame.Flow, 0, sign*(0.04+0.08*rng.Float64()))
	return frame.Flow
}

// judge compares one test with the truth.
func (a *tally) judge(tr *rig.Trace, test *rig.Test, bad bool) {
	rec, truth := test.Record, test.True
	if !rec.Whole() {
		a.partial++
	}
	results := rec.Results()
	trueValue := make([]float64, bench.NumFigures)
	for f := range bench.NumFigures {
		want := truth.Figure(f)
		trueValue[f] = want.Value
		if f == bench.NPSHRequired {
			trueValue[f] = tr.NPSHRequiredM
		}
		if got := results[f]; got.OK && !bad {
			a.shown[f]++
			if d := got.Value - trueValue[f]; d <= got.U && d >= -got.U {
				a.covered[f]++
			}
		}
	}
	for _, c := range rec.Checks() {
		a.checks++
		v := trueValue[c.Limit.Figure]
		good := (c.Limit.Min == nil || v >= *c.Limit.Min) && (c.Limit.Max == nil || v <= *c.Limit.Max)
		switch c.Verdict {
		case bench.NotShown:
			a.notShown++
		case bench.NotTested:
			a.notTested++
		case bench.Pass:
			a.verdict++
			if !good {
				a.falsePass++
				a.wrong = append(a.wrong, fmt.Sprintf("%s: %s passed, true %v", tr.Truth.Condition, c.Limit.Figure, v))
			}
		case bench.Fail:
			a.verdict++
			if good {
				a.falseFail++
				a.wrong = append(a.wrong, fmt.Sprintf("%s: %s failed, true %v", tr.Truth.Condition, c.Limit.Figure, v))
			}
		}
	}
}

// runTest is the n-th test of a condition on one of its pumps.
func (a *tally) runTest(t *testing.T, tr *rig.Trace, setup bench.Setup, seed uint64) {
	rng := rand.New(rand.NewPCG(*proofSeed, seed))
	sensors := rig.NewSensors(setup.Instruments, rng)
	bad := tr.Truth.Condition == rig.BadSensor
	var spoilt frame.Channel
	if bad {
		spoilt = spoil(sensors, &setup.Pump, rng)
	}
	test, err := tr.Run(setup, sensors, rng)
	require.NoError(t, err)
	a.judge(tr, test, bad)
	if !bad {
		return
	}
	a.spoilt++
	for _, d := range test.Record.Doubts() {
		if d.Channel == spoilt {
			a.doubted++
			return
		}
	}
}

func benchSetup(t *testing.T) bench.Setup {
	lib := bench.Generic()
	p := lib.Pumps[0]
	plan, err := bench.NewPlan(p, bench.DefaultChoice())
	require.NoError(t, err)
	return bench.Setup{
		Pump: p, Instruments: lib.Instruments, Limits: lib.Limits(p), Plan: plan, Who: "the proof", Source: "simulated bench",
		BoreM: 0.019, Began: time.Date(2026, 5, 4, 8, 0, 0, 0, time.UTC),
	}
}

// pumps builds the pumps of one condition.
func pumps(t *testing.T, c rig.Condition, setup bench.Setup) []*rig.Trace {
	rng := rand.New(rand.NewPCG(*proofSeed, uint64(len(c))*7919))
	out := make([]*rig.Trace, pumpsEach)
	for i := range out {
		truth, err := rig.Draw(c, rng)
		require.NoError(t, err)
		out[i], err = rig.Record(truth, setup.Pump, setup.Plan)
		require.NoError(t, err)
	}
	return out
}

// TestProof is the promise of the bench: true values inside the stated 95 %
// interval 93 to 97 % of the time, no bad pump passed and no good one failed
// where a verdict is given, and how often none is.
func TestProof(t *testing.T) {
	setup := benchSetup(t)
	if testing.Short() {
		*proofTests = min(*proofTests, 120)
	}
	conditions := rig.Conditions()
	byCondition := make([]tally, len(conditions))
	gate := make(chan struct{}, max(runtime.GOMAXPROCS(0), 1))
	var wg sync.WaitGroup
	for i, c := range conditions {
		wg.Go(func() {
			gate <- struct{}{}
			defer func() { <-gate }()
			traces := pumps(t, c, setup)
			for n := i; n < *proofTests; n += len(conditions) {
				byCondition[i].runTest(t, traces[n/len(conditions)%pumpsEach], setup, uint64(n))
			}
		})
	}
	wg.Wait()
	var all tally
	for i, c := range conditions {
		b := &byCondition[i]
		t.Logf("%-13s limits %4d: verdict %4d, not shown %4.1f %%, not tested %4.1f %%; partial tests %d", c, b.checks, b.verdict,
			100*float64(b.notShown)/float64(max(b.checks, 1)), 100*float64(b.notTested)/float64(max(b.checks, 1)), b.partial)
		all.add(b)
	}
	for _, w := range all.wrong {
		t.Log(w)
	}
	t.Logf("bad sensors found: %d of %d", all.doubted, all.spoilt)
	t.Logf("false passes %d, false fails %d of %d verdicts; not shown %.1f %%", all.falsePass, all.falseFail, all.verdict,
		100*float64(all.notShown)/float64(all.checks))
	for f := range bench.NumFigures {
		share := 100 * float64(all.covered[f]) / float64(max(all.shown[f], 1))
		t.Logf("%-24s inside the 95 %% interval: %5.1f %% of %d", f, share, all.shown[f])
		if *proofTests >= 500 {
			require.InDelta(t, 95, share, 2, f.String())
			require.Greater(t, all.shown[f], *proofTests/3, f.String())
		}
	}
	require.Empty(t, all.wrong)
	require.Zero(t, all.falsePass+all.falseFail)
}
