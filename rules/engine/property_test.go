package engine_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

func drawFrame(t *rapid.T) frame.Frame {
	var f frame.Frame
	for c := range f.Samples {
		f.Samples[c].Status = frame.Status(rapid.IntRange(0, int(frame.NumStatuses)).Draw(t, "status"))
		if rapid.Bool().Draw(t, "good") {
			f.Samples[c].Status = frame.Good
		}
		lo, hi := frame.Channel(c).Believable()
		f.Samples[c].Value = rapid.OneOf(rapid.Float64Range(lo, hi), rapid.Float64(),
			rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 0})).Draw(t, "value")
	}
	return f
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// Whatever comes in, no number that isn't finite comes out, a rule that does
// not watch carries no headroom, and a good sample is inside its band.
func TestNothingBadComesOut(t *testing.T) {
	cfg := fixture()
	cfg.Normal = engine.OwnNormal{LearnS: 2, WindowS: 1}
	cfg.Normal.Channels[frame.Flow] = true
	cfg.Rules[engine.Departure] = engine.Limit{On: true, Warn: 4, HasWarn: true, WarnLevel: engine.Advice, Span: 4}
	e, err := engine.New(cfg)
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		var s engine.State
		now := time.Duration(0)
		for range rapid.IntRange(1, 60).Draw(t, "frames") {
			now += time.Duration(rapid.Int64Range(-1e8, 4e9).Draw(t, "dt"))
			f := drawFrame(t)
			checkVerdicts(t, e.Step(&s, &f, now), cfg)
		}
		tot := s.Totals()
		require.True(t, finite(tot.WaterM3) && finite(tot.EnergyJ))
	})
}

func checkVerdicts(t require.TestingT, v *engine.Verdicts, cfg engine.Config) {
	for i := range v.Rules {
		r := &v.Rules[i]
		for _, x := range []float64{r.Value, r.Limit, r.Headroom, r.Share, r.TimeToS, r.EarliestS, r.LatestS} {
			require.True(t, finite(x), "%s: %v", r.Rule, x)
		}
		for _, u := range r.Used() {
			require.True(t, finite(u.Value), "%s: %s", r.Rule, u.Term)
		}
		if r.Judge != engine.Watching {
			require.Zero(t, r.Share)
			require.Zero(t, r.Sure)
		}
	}
	for c, s := range v.Samples {
		require.True(t, finite(s.Value), "%s", frame.Channel(c))
		if s.OK() && cfg.Signals[c].SmoothS == 0 {
			require.True(t, s.Value >= cfg.Signals[c].Min && s.Value <= cfg.Signals[c].Max)
		}
	}
}

// The same frames give the same verdicts, and a copy of the state taken in the
// middle goes on exactly as the original does.
func TestStepIsDeterministicAndStateIsAValue(t *testing.T) {
	e, err := engine.New(fixture())
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		var a, b engine.State
		n := rapid.IntRange(2, 80).Draw(t, "frames")
		cut := rapid.IntRange(0, n-1).Draw(t, "cut")
		now := time.Duration(0)
		for i := range n {
			if i == cut {
				b = a
			}
			now += tick
			f := drawFrame(t)
			va := *e.Step(&a, &f, now)
			if i >= cut {
				require.Equal(t, print(va), print(*e.Step(&b, &f, now)))
			}
		}
	})
}

func print(v engine.Verdicts) string { return fmt.Sprintf("%#v", v) }

// An alarm goes up and back in turn, and never before its delay.
func TestTransitionsAlternate(t *testing.T) {
	e, err := engine.New(fixture())
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		var s engine.State
		var up [engine.NumAlarms]bool
		now := time.Duration(0)
		for range rapid.IntRange(1, 40).Draw(t, "blocks") {
			f := healthy()
			f.Set(frame.InletPressure, rapid.Float64Range(-90e3, 800e3).Draw(t, "inlet"))
			f.Set(frame.WaterTemp, rapid.Float64Range(280, 345).Draw(t, "temp"))
			f.Set(frame.MotorCurrent, rapid.Float64Range(0, 30).Draw(t, "current"))
			for range rapid.IntRange(1, 40).Draw(t, "ticks") {
				now += tick
				v := e.Step(&s, &f, now)
				for _, tr := range v.Transitions() {
					require.NotEqual(t, up[tr.Alarm], tr.Raised)
					up[tr.Alarm] = tr.Raised
				}
				for i := range v.Alarms {
					require.Equal(t, up[i], v.Alarms[i].Active)
				}
			}
		}
	})
}

func FuzzStep(f *testing.F) {
	f.Add(250e3, 288.15, 1.2e-4, 14.0, uint8(1), int64(1e8))
	f.Add(math.Inf(1), math.NaN(), -1.0, 1e308, uint8(6), int64(-5))
	f.Add(-101325.0, 273.15, 0.0, 0.0, uint8(0), int64(1e18))
	cfg := fixture()
	e, err := engine.New(cfg)
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, p, k, q, i float64, status uint8, dt int64) {
		var s engine.State
		fr := healthy()
		now := time.Duration(0)
		for n := range 30 {
			now += time.Duration(dt)
			fr.Samples[frame.InletPressure] = frame.Sample{Value: p * float64(n), Status: frame.Good}
			fr.Samples[frame.WaterTemp] = frame.Sample{Value: k, Status: frame.Status(status)}
			fr.Samples[frame.Flow] = frame.Sample{Value: q, Status: frame.Good}
			fr.Samples[frame.MotorCurrent] = frame.Sample{Value: i, Status: frame.Good}
			checkVerdicts(t, e.Step(&s, &fr, now), cfg)
		}
	})
}
