package bench_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/bench"
	"headroom/daemon/bench/rig"
	"headroom/daemon/config"
)

// TestFailures: each condition is found by the limits that it breaks.
func TestFailures(t *testing.T) {
	for _, c := range []struct {
		condition rig.Condition
		seed      uint64
		broken    bench.Figure
	}{
		{rig.WornValves, 1, bench.FlowAtPlate},
		{rig.WornPacking, 1, bench.PackingLeak},
		{rig.BeltSlips, 1, bench.SpeedAtPlate},
		{rig.WrongNozzle, 1, bench.NozzlePressure},
	} {
		r := whole(t, c.condition, c.seed)
		v, _ := r.Overall(r.Checks())
		require.Equal(t, bench.Fail, v, c.condition)
		found := false
		for _, k := range r.Checks() {
			found = found || k.Limit.Figure == c.broken && k.Verdict == bench.Fail
		}
		require.True(t, found, c.condition)
	}
}

// TestGuardBand moves a limit across a figure: fail, not shown, pass, in that
// order, and the band is twice the guard (source: JCGM 106, 8.3.2).
func TestGuardBand(t *testing.T) {
	r := whole(t, rig.New, 1)
	res := r.Figure(bench.FlowAtPlate)
	at := func(limit float64) bench.Check {
		r.Limits = []bench.Limit{{Figure: bench.FlowAtPlate, Min: &limit, Source: "test"}}
		return r.Checks()[0]
	}
	guard := at(res.Value).Guard
	require.Greater(t, guard, res.U, "the guard band is of a higher level")
	for _, c := range []struct {
		off  float64
		want bench.Verdict
	}{{-1.01, bench.Pass}, {-0.99, bench.NotShown}, {0, bench.NotShown}, {0.99, bench.NotShown}, {1.01, bench.Fail}} {
		require.Equal(t, c.want, at(res.Value+c.off*guard).Verdict, c.off)
	}
}

// TestNoExtrapolation: without a point at plate pressure there is no figure
// there.
func TestNoExtrapolation(t *testing.T) {
	r := whole(t, rig.New, 1)
	var short []bench.Point
	for _, p := range r.Points {
		if p.Step != "load_5" && p.Step != "load_4" {
			short = append(short, p)
		}
	}
	r.Points = short
	for _, f := range []bench.Figure{bench.FlowAtPlate, bench.VolumetricEff, bench.CurrentAtPlate, bench.HydraulicPower} {
		res := r.Figure(f)
		require.False(t, res.OK, f)
		require.NotEmpty(t, res.Why)
	}
	require.False(t, r.Whole())
}

// TestTakenAsItWasGivesNoVerdict: a point that wasn't steady has errors that
// nobody knows.
func TestTakenAsItWasGivesNoVerdict(t *testing.T) {
	r := whole(t, rig.New, 1)
	for i := range r.Points {
		r.Points[i].AsItIs = r.Points[i].Step == "own_nozzle"
	}
	for _, c := range r.Checks() {
		if c.Limit.Figure == bench.NozzlePressure {
			require.Equal(t, bench.NotShown, c.Verdict)
			require.Contains(t, c.Why, "taken as it was")
		}
	}
	v, _ := r.Overall(r.Checks())
	require.Equal(t, bench.NotShown, v)
}

// TestNoInstrumentNoFigure: an instrument without stated errors gives no
// number.
func TestNoInstrumentNoFigure(t *testing.T) {
	r := whole(t, rig.New, 1)
	r.Instruments = r.Instruments[:1]
	res := r.Figure(bench.NozzlePressure)
	require.False(t, res.OK)
	require.Contains(t, res.Why, "no instrument is stated")
}

// TestSharedErrorsCancel: the same pump tested twice with the same instruments
// shows no difference, and the uncertainty of the difference is less than that
// of two independent figures (source: JCGM 100, 5.2 and F.1.2.3).
func TestSharedErrorsCancel(t *testing.T) {
	a, b := whole(t, rig.New, 1), whole(t, rig.New, 1)
	all, err := bench.Compare(a, b)
	require.NoError(t, err)
	for _, c := range all {
		require.True(t, c.OK, c.Why)
		require.False(t, c.Shown, c.Figure)
	}
	eff := all[bench.VolumetricEff]
	require.Equal(t, len(bench.VolumetricEff.Needs()), eff.Same)
	require.Less(t, eff.U, 0.7*eff.Before.U*1.41)

	worn := whole(t, rig.WornValves, 1)
	all, err = bench.Compare(worn, a)
	require.NoError(t, err)
	require.True(t, all[bench.VolumetricEff].Shown)
	require.Positive(t, all[bench.VolumetricEff].Difference, "the rebuild gained")

	for i := range b.Instruments {
		b.Instruments[i].Calibrated = "2026-04-30"
	}
	other, err := bench.Compare(a, b)
	require.NoError(t, err)
	require.Zero(t, other[bench.VolumetricEff].Same)
	require.Greater(t, other[bench.VolumetricEff].U, eff.U, "calibrated anew, nothing is shared")

	b.Pump.PressurePa *= 2
	_, err = bench.Compare(a, b)
	require.ErrorContains(t, err, "different plates")
}

func TestTrend(t *testing.T) {
	var tests []*bench.Record
	for i, c := range []rig.Condition{rig.New, rig.New, rig.WornValves} {
		r := whole(t, c, uint64(i+1))
		r.Began = r.Began.Add(time.Duration(i) * 365 * 24 * time.Hour)
		tests = append(tests, r)
	}
	tr := bench.TrendOf(bench.VolumetricEff, tests)
	require.Len(t, tr.Points, 3)
	require.True(t, tr.OK)
	require.Negative(t, tr.PerYear)
	require.False(t, bench.TrendOf(bench.VolumetricEff, tests[:2]).OK, "two points are no trend")
}

// TestBaseline: the points go into a config, are read back by it, replace those
// of an earlier test, and those of a failed pump don't.
func TestBaseline(t *testing.T) {
	r := whole(t, rig.New, 1)
	_, err := r.Baseline()
	require.ErrorContains(t, err, "no pump was tested", "practice is nobody's baseline")
	r.Source = bench.OwnSensors
	base := "[machine]\nname = \"my jetter\"\n"
	text, err := r.WriteBaseline(base)
	require.NoError(t, err)
	cfg, problems := config.Parse("my.toml", []byte(text))
	require.Empty(t, config.Mistakes(problems))
	points, err := r.Baseline()
	require.NoError(t, err)
	b := &cfg.Engine.Plant.Baseline
	require.Equal(t, len(points), b.N)
	for i, p := range points {
		require.InEpsilon(t, p.Efficiency, b.Points[i].Efficiency, 1e-4)
		require.InEpsilon(t, p.DropPa, b.Points[i].DropPa, 1e-3)
		require.InEpsilon(t, p.SpeedHz, b.Points[i].SpeedHz, 1e-4)
		require.InDelta(t, p.TempK, b.Points[i].TempK, 0.01)
	}
	second := whole(t, rig.New, 2)
	second.Source = bench.OwnSensors
	again, err := second.WriteBaseline(text)
	require.NoError(t, err)
	require.Contains(t, again, base)
	cfg, problems = config.Parse("my.toml", []byte(again))
	require.Empty(t, config.Mistakes(problems))
	require.Equal(t, len(points), cfg.Engine.Plant.Baseline.N, "replaced, not added")

	failed := whole(t, rig.WornValves, 1)
	failed.Source = bench.OwnSensors
	_, err = failed.WriteBaseline(base)
	require.ErrorContains(t, err, "the pump failed")
}
