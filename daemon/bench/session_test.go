package bench_test

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/daemon/bench"
	"headroom/daemon/bench/rig"
	"headroom/daemon/config"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

var began = time.Date(2026, 5, 4, 8, 0, 0, 0, time.UTC)

func setupOf(t *testing.T, c bench.Choice) bench.Setup {
	lib := bench.Generic()
	plan, err := bench.NewPlan(lib.Pumps[0], c)
	require.NoError(t, err)
	return bench.Setup{
		Pump: lib.Pumps[0], Instruments: lib.Instruments, Limits: lib.Limits(lib.Pumps[0]), Plan: plan,
		Who: "A. Tester (invented)", Source: "the simulator", BoreM: 0.019, Began: began,
	}
}

// leader makes a simulated bench for a session.
func leader(t *testing.T, s *bench.Session, c rig.Condition, seed uint64) *rig.Leader {
	rng := rand.New(rand.NewPCG(seed, 0))
	truth, err := rig.Draw(c, rng)
	require.NoError(t, err)
	b, err := rig.NewBench(truth, s.Record().Pump)
	require.NoError(t, err)
	cfg := config.Default().Engine
	for i := range cfg.Signals {
		cfg.Signals[i].Fitted = false
	}
	for _, ch := range rig.Channels() {
		lo, hi := ch.Believable()
		cfg.Signals[ch].Fitted, cfg.Signals[ch].Min, cfg.Signals[ch].Max = true, lo, hi
	}
	e, err := engine.New(cfg)
	require.NoError(t, err)
	return &rig.Leader{Session: s, Bench: b, Sensors: rig.NewSensors(s.Record().Instruments, rng), Engine: e, Rand: rng, Began: began, Units: units.SI}
}

func whole(t *testing.T, c rig.Condition, seed uint64) *bench.Record {
	s, err := bench.NewSession(setupOf(t, bench.DefaultChoice()))
	require.NoError(t, err)
	require.NoError(t, leader(t, s, c, seed).Run(context.Background()))
	return s.Record()
}

func TestWholeTest(t *testing.T) {
	r := whole(t, rig.New, 1)
	require.True(t, r.Whole(), "%v", r.Missing())
	v, why := r.Overall(r.Checks())
	require.Equal(t, bench.Pass, v, why)
	require.Empty(t, r.Doubts())
	for _, res := range r.Results() {
		require.True(t, res.OK, "%s: %s", res.Figure, res.Why)
		require.Positive(t, res.U, res.Figure)
		require.Greater(t, res.K, 1.0)
		require.NotEmpty(t, res.Share)
	}
}

var errPlug = errors.New("the plug was pulled")

// TestPowerCut pulls the plug after every change of the record: what is on the
// disk is partial, goes on on a clock that began anew, and becomes whole.
func TestPowerCut(t *testing.T) {
	c := bench.DefaultChoice()
	c.WindowS, c.Inlet = 10, false
	setup := setupOf(t, c)
	for cut := 1; cut < len(setup.Plan.Steps); cut++ {
		store := bench.NewStore(t.TempDir())
		s, err := bench.NewSession(setup)
		require.NoError(t, err)
		l, saves := leader(t, s, rig.New, 2), 0
		l.Keep = func(r *bench.Record) error {
			require.NoError(t, store.Save(r))
			if saves++; saves == cut {
				return errPlug
			}
			return nil
		}
		require.ErrorIs(t, l.Run(context.Background()), errPlug)

		r, err := store.Load(s.Record().ID)
		require.NoError(t, err)
		require.False(t, r.Whole(), "after %d of %d steps", cut, len(setup.Plan.Steps))
		v, _ := r.Overall(r.Checks())
		require.NotEqual(t, bench.Pass, v)

		again, err := bench.Resume(r, false, "the power was cut", began)
		require.NoError(t, err)
		require.NoError(t, leader(t, again, rig.New, 2).Run(context.Background()))
		require.True(t, again.Record().Whole(), "%v", again.Record().Missing())
		require.Len(t, again.Record().Breaks, 1, "the interruption stays on record")
	}
}

// TestReopenedTestWaitsForAWord: a test that a program takes up by itself takes
// nothing, whatever the pump does meanwhile, until a person says that it goes on.
// It was found at load_1 with the pump at 25 % of its plate in the field.
func TestReopenedTestWaitsForAWord(t *testing.T) {
	c := bench.DefaultChoice()
	c.WindowS = 10
	s, err := bench.NewSession(setupOf(t, c))
	require.NoError(t, err)
	feed(s, 0, 150, func(int) float64 { return 0 }) // rest is taken
	require.NoError(t, s.Skip("no time", began))
	step, _ := s.Step()
	require.Equal(t, bench.Load, step.Kind)
	cut := s.Record()

	p := cut.Pump
	rng := rand.New(rand.NewPCG(5, 5))
	inTheField := func(s *bench.Session, from time.Duration) (points int) {
		for i := range 600 {
			var f frame.Frame
			for c, v := range map[frame.Channel]float64{
				frame.OutletPressure: step.TargetPa, frame.InletPressure: 3e5, frame.Flow: p.FlowM3s, frame.ShaftSpeed: p.SpeedHz,
				frame.MotorCurrent: 5, frame.WaterTemp: 290,
			} {
				f.Set(c, v*(1+1e-4*rng.NormFloat64()))
			}
			if s.Feed(bench.Input{T: from + time.Duration(i)*100*time.Millisecond, Wall: began.AddDate(0, 0, 9), Samples: f.Samples}) {
				points++
			}
		}
		return points
	}
	again, err := bench.Reopen(cut)
	require.NoError(t, err)
	require.Zero(t, inTheField(again, time.Hour), "a minute of field work is no point")
	require.True(t, again.Halted())
	v := again.View(units.SI)
	require.True(t, v.Halted)
	require.Equal(t, bench.Running, v.State)
	require.Contains(t, v.Waiting, "the test was cut off and waits")
	require.False(t, v.CanTake || v.CanSkip || v.CanBack || v.NeedsValue || v.NeedsWord || v.Met)
	require.ErrorContains(t, again.Take(), "cut off")
	require.ErrorContains(t, again.Skip("tired", began), "cut off")
	require.ErrorContains(t, again.Enter(1e-4, 1e-6, began), "cut off")
	require.ErrorContains(t, again.Ready(), "cut off")
	require.ErrorContains(t, again.Back(), "cut off")
	require.Equal(t, cut.Hash(), again.Record().Hash(), "nothing on record has changed")

	require.NoError(t, again.GoOn("the power was cut", began.AddDate(0, 0, 9)))
	require.False(t, again.Halted())
	require.Error(t, again.GoOn("twice", began))
	require.Len(t, again.Record().Breaks, 1)
	require.Equal(t, step.ID, again.Record().Breaks[0].Step)
	require.Positive(t, inTheField(again, 2*time.Hour), "these readings make a point at a person's word, so that they proved something above")

	ended, err := bench.Reopen(cut)
	require.NoError(t, err)
	ended.Abort("another pump is on the bench", began)
	require.True(t, ended.Done())
	require.False(t, ended.Halted())
	require.Error(t, ended.GoOn("too late", began))
	_, err = bench.Reopen(ended.Record())
	require.ErrorContains(t, err, "aborted")
}

func TestSkippedAndAbortedStayPartial(t *testing.T) {
	c := bench.DefaultChoice()
	c.WindowS = 10
	s, err := bench.NewSession(setupOf(t, c))
	require.NoError(t, err)
	require.Error(t, s.Skip(" ", began), "a reason is needed")
	for !s.Done() {
		require.NoError(t, s.Skip("no time", began))
	}
	require.Equal(t, bench.Complete, s.Record().State)
	require.False(t, s.Record().Whole())

	s, err = bench.NewSession(setupOf(t, c))
	require.NoError(t, err)
	s.Abort("a hose burst", began)
	require.True(t, s.Done())
	require.False(t, s.Record().Whole())
	_, err = bench.Resume(s.Record(), false, "again", began)
	require.ErrorContains(t, err, "aborted")
}

// feed gives a session n frames at rest with a pressure.
func feed(s *bench.Session, from time.Duration, n int, pressure func(i int) float64) (points int) {
	var f frame.Frame
	for _, c := range rig.Channels() {
		f.Set(c, 0)
	}
	f.Set(frame.WaterTemp, 290)
	for i := range n {
		f.Set(frame.OutletPressure, pressure(i))
		if s.Feed(bench.Input{T: from + time.Duration(i)*100*time.Millisecond, Wall: began, Samples: f.Samples}) {
			points++
		}
	}
	return points
}

// TestNoPointWithoutRest: drift, noise beyond the tolerance, a hole in time and
// what is no number never make a point.
func TestNoPointWithoutRest(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	for _, c := range []struct {
		name     string
		pressure func(i int) float64
		want     int
	}{
		{"at rest", func(i int) float64 { return 100 * rng.NormFloat64() }, 1},
		{"drifting", func(i int) float64 { return 2e3 * float64(i) }, 0},
		{"noisy", func(i int) float64 { return 1e6 * rng.NormFloat64() }, 0},
		{"no number", func(i int) float64 { return math.NaN() }, 0},
	} {
		s, err := bench.NewSession(setupOf(t, bench.DefaultChoice()))
		require.NoError(t, err)
		require.Equal(t, c.want, feed(s, 0, 150, c.pressure), c.name)
	}
	s, err := bench.NewSession(setupOf(t, bench.DefaultChoice()))
	require.NoError(t, err)
	flat := func(int) float64 { return 0 }
	require.Zero(t, feed(s, 0, 60, flat))
	require.Zero(t, feed(s, time.Minute, 60, flat), "two halves with a hole between are no window")
	require.Equal(t, 1, feed(s, time.Minute+6*time.Second, 60, flat))
}

func TestActs(t *testing.T) {
	c := bench.DefaultChoice()
	c.WindowS = 10
	s, err := bench.NewSession(setupOf(t, c))
	require.NoError(t, err)
	require.Error(t, s.Take(), "nothing is collected yet")
	require.Error(t, s.Enter(1, 1, began), "a step with readings takes no value")
	feed(s, 0, 40, func(i int) float64 { return 5e3 * float64(i) })
	require.NoError(t, s.Take())
	require.True(t, s.Record().Points[0].AsItIs)
	v := s.View(units.SI)
	require.Equal(t, 2, v.Number)
	require.True(t, v.Steps[0].Done && v.Steps[1].Now && v.CanBack)
	require.NoError(t, s.Back())
	require.Equal(t, 1, s.View(units.SI).Number)
	for s.View(units.SI).Step.Kind != bench.Bucket {
		require.NoError(t, s.Skip("not today", began))
	}
	require.True(t, s.View(units.SI).NeedsValue)
	for _, bad := range [][2]float64{{-1, 1e-6}, {1.2e-4, 0}, {math.NaN(), 1e-6}, {1.2e-4, math.Inf(1)}, {1e300, 1e-6}, {1.2e-4, 1e300}, {7.5, 1e-6}} {
		require.Error(t, s.Enter(bad[0], bad[1], began), bad)
	}
	require.NoError(t, s.Enter(1.2e-4, 1e-6, began))
	require.Len(t, s.Record().Entries, 1)
}

// TestRecordFindsDamage: any changed digit is refused, by its hash.
func TestRecordFindsDamage(t *testing.T) {
	r := whole(t, rig.New, 1)
	folder := t.TempDir()
	store := bench.NewStore(folder)
	require.NoError(t, store.Save(r))
	again, err := store.Load(r.ID)
	require.NoError(t, err)
	require.Equal(t, r.Hash(), again.Hash())
	path := filepath.Join(folder, r.ID+".json")
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	for _, at := range []int{len(data) / 3, len(data) / 2, len(data) - 40} {
		spoilt := append([]byte(nil), data...)
		spoilt[at] ^= 1
		_, err := bench.Decode(spoilt)
		require.Error(t, err, at)
		_, err = bench.Decode(data[:at])
		require.Error(t, err, "cut at %d", at)
	}
	_, err = store.Load("../secret")
	require.ErrorContains(t, err, "not the name of a test")
	require.NoError(t, os.WriteFile(path, data[:100], 0o600))
	all, bad := store.List()
	require.Empty(t, all)
	require.Len(t, bad, 1)
}

// seedRecord is a small test with every kind of number in it.
func seedRecord() bench.Record {
	lib := bench.Generic()
	plan, _ := bench.NewPlan(lib.Pumps[0], bench.DefaultChoice())
	seed := bench.Record{Version: 1, ID: "a", Pump: lib.Pumps[0], Instruments: lib.Instruments, Limits: lib.Limits(lib.Pumps[0]), Plan: plan, State: bench.Complete}
	for i, s := range plan.Steps[:9] {
		p := bench.Point{Step: s.ID, Kind: s.Kind, From: time.Duration(i) * time.Minute, To: time.Duration(i+1) * time.Minute}
		for j, c := range []string{"flow", "shaft_speed", "outlet_pressure", "inlet_pressure", "motor_current", "water_temp", "supply_voltage"} {
			p.Readings = append(p.Readings, bench.Reading{Channel: c, Mean: []float64{1.3e-4 - 1e-6*float64(i), 29, 1.5e6 * float64(i), 2e5, 14, 290, 118}[j], Spread: 1e-3, Effective: 80, N: 300, SlopeDoF: 9})
		}
		seed.Points = append(seed.Points, p)
	}
	return seed
}

// finite fails where a figure is neither a finite number nor a refusal.
func finite(t interface{ Fatalf(string, ...any) }, r *bench.Record) {
	for _, res := range r.Results() {
		if math.IsNaN(res.Value+res.U+res.K) || math.IsInf(res.Value+res.U+res.K, 0) || !res.OK && res.Why == "" {
			t.Fatalf("%s: %+v", res.Figure, res)
		}
	}
	for _, c := range r.Checks() {
		if math.IsNaN(c.Guard) || math.IsInf(c.Guard, 0) {
			t.Fatalf("guard of %s: %v", c.Limit.Figure, c.Guard)
		}
	}
	r.Missing()
	r.Curves()
	bench.TrendOf(bench.FlowAtPlate, []*bench.Record{r})
}

// TestFiguresAreFiniteOrRefused: readings of any size.
func TestFiguresAreFiniteOrRefused(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := seedRecord()
		any := rapid.SampledFrom([]float64{0, -1, 1e-300, 1e300, math.MaxFloat64, 1, 273.15, 5e-324, 1e9, -1e5})
		for range rapid.IntRange(1, 12).Draw(t, "changes") {
			p := &r.Points[rapid.IntRange(0, len(r.Points)-1).Draw(t, "point")]
			m := &p.Readings[rapid.IntRange(0, len(p.Readings)-1).Draw(t, "reading")]
			switch rapid.IntRange(0, 5).Draw(t, "field") {
			case 0:
				m.Mean = any.Draw(t, "mean")
			case 1:
				m.Spread = math.Abs(any.Draw(t, "spread"))
			case 2:
				m.Effective = any.Draw(t, "effective")
			case 3:
				m.Slope, m.SlopeStd = any.Draw(t, "slope"), any.Draw(t, "std")
			case 4:
				r.Pump.PressurePa = any.Draw(t, "plate")
			case 5:
				r.Pump.DisplacementM3, r.AltitudeM, r.BoreM = any.Draw(t, "displacement"), any.Draw(t, "altitude"), any.Draw(t, "bore")
			}
		}
		finite(t, &r)
	})
}

// FuzzRecord: whatever stands in a record, its figures are finite numbers with
// an uncertainty, or a reason.
func FuzzRecord(f *testing.F) {
	text, err := json.Marshal(seedRecord())
	require.NoError(f, err)
	f.Add(text)
	f.Add([]byte(`{"pump":{"displacement_m3":1e-6},"points":[{"kind":"inlet"},{"kind":"inlet"}],"plan":{"steps":[{"kind":"inlet"}]}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		var r bench.Record
		if json.Unmarshal(data, &r) == nil {
			finite(t, &r)
		}
	})
}
