package record

import (
	"bytes"
	"errors"
	"io"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/sensors/csvfile"
)

// jetter is an invented machine with rules that have delays, filters and
// trends, so that any lost bit or shifted nanosecond shows in the verdicts.
func jetter() engine.Config {
	cfg := engine.Config{
		MaxGap: 3 * time.Second, SensorOn: 300 * time.Millisecond, SensorOff: 500 * time.Millisecond,
		States: machine.Config{StartTime: 2 * time.Second, StopTime: 2 * time.Second, BypassAfter: time.Second},
		Machine: engine.Machine{
			DisplacementM3: 4.64e-6, RatedFlowM3s: 7.6e-3 / 60, RatedSpeedHz: 28.75, VolumetricEff: 0.95,
			RatedOutletPa: 9e6, CircuitA: 20, AssumedNPSHRM: 2.5, InletBoreM: 0.019,
			RunCurrentA: 4, FlowOnM3s: 1e-5, FedInletPa: 10e3,
		},
	}
	for _, c := range replayed {
		lo, hi := c.Believable()
		cfg.Signals[c] = engine.Signal{Fitted: true, Min: lo, Max: hi, SmoothS: 0.3}
	}
	limit := func(warn, act, span, deadband float64) engine.Limit {
		return engine.Limit{
			On: true, Warn: warn, Act: act, HasWarn: true, HasAct: true, WarnLevel: engine.Warning, ActLevel: engine.Act,
			Span: span, Deadband: deadband, WarnOn: 200 * time.Millisecond, ActOn: 200 * time.Millisecond, Off: time.Second,
		}
	}
	cfg.Rules[engine.InletLow] = limit(150e3, 20e3, 200e3, 5e3)
	cfg.Rules[engine.WaterHot] = limit(289, 333, 40, 0.1)
	cfg.Rules[engine.NPSHMargin] = limit(15, 0.5, 8, 0.3)
	cfg.Rules[engine.FlowShort] = limit(0.9, 0.75, 0.25, 0.03)
	cfg.Rules[engine.CircuitLoad] = limit(14, 20, 10, 0.3)
	return cfg
}

var replayed = []frame.Channel{
	frame.InletPressure, frame.WaterTemp, frame.Flow, frame.MotorCurrent,
	frame.OutletPressure, frame.Running,
}

// live makes the frames of a noisy, ailing machine, with gaps, faults, channels
// that come late and a clock that is set.
func live(n int) []tick {
	rnd := rand.New(rand.NewPCG(7, 8))
	out := make([]tick, n)
	at, wall := 12345*time.Nanosecond, startWall
	for i := range out {
		at += 100*time.Millisecond + time.Duration(rnd.IntN(2_000_001)-1_000_000)
		if i%500 == 499 {
			at += 10 * time.Second
		}
		if i == n/2 {
			wall = wall.Add(-24 * time.Hour)
		}
		k := tick{t: at, wall: wall.Add(at)}
		slow := float64(i) / float64(n)
		k.raw.Set(frame.InletPressure, 160e3+60e3*rnd.NormFloat64())
		k.raw.Set(frame.WaterTemp, 288+2*slow+0.1*rnd.NormFloat64())
		k.raw.Set(frame.Flow, 1.2e-4*(1-0.3*slow)*(1+0.05*rnd.NormFloat64()))
		k.raw.Set(frame.MotorCurrent, 13+2*rnd.NormFloat64())
		k.raw.Set(frame.Running, 1)
		if i > n/3 {
			k.raw.Set(frame.OutletPressure, 9e6+1e5*rnd.NormFloat64())
		}
		if i%97 > 80 {
			c := replayed[rnd.IntN(5)]
			k.raw.Samples[c].Status = frame.Status(rnd.IntN(int(frame.NumStatuses)))
		}
		out[i] = k
	}
	return out
}

// TestReplayGivesTheSameVerdicts records a run through the queue, exports it
// and replays the export through a new engine: every byte of every verdict and
// every transition must be the same.
func TestReplayGivesTheSameVerdicts(t *testing.T) {
	dir := t.TempDir()
	rec, err := Open(dir, Options{SegmentBytes: 50_000, Info: testInfo})
	require.NoError(t, err)
	e, err := engine.New(jetter())
	require.NoError(t, err)
	var s engine.State
	var first []byte
	changes := 0
	ticks := live(3000)
	for i := range ticks {
		k := &ticks[i]
		k.v = e.Step(&s, &k.raw, k.t)
		first = k.v.Append(first)
		changes += len(k.v.Transitions())
		require.NoError(t, k.appendTo(rec))
		if i%10 == 0 {
			require.NoError(t, rec.Sync())
		}
	}
	require.NoError(t, rec.Close())
	require.Greater(t, changes, 20, "a run in which nothing happens proves nothing")

	var text bytes.Buffer
	rep, err := Export(&text, dir, rec.Boot(), 0, 0)
	require.NoError(t, err)
	require.Empty(t, rep.Problems)
	second, transitions := replay(t, &text)
	require.True(t, bytes.Equal(first, second))

	recorded, _, err := Events(dir, rec.Boot())
	require.NoError(t, err)
	require.Len(t, recorded, changes)
	require.Len(t, transitions, changes)
	for i := range recorded {
		want := newEvent(rec.Boot(), recorded[i].Wall, &transitions[i])
		require.Equal(t, want, recorded[i])
	}
}

func replay(t *testing.T, in io.Reader) (verdicts []byte, transitions []engine.Transition) {
	t.Helper()
	e, err := engine.New(jetter())
	require.NoError(t, err)
	r, err := csvfile.NewReader(in, "export", csvfile.Map{}, csvfile.Options{Strict: true})
	require.NoError(t, err)
	var s engine.State
	for {
		var f frame.Frame
		at, _, err := r.Next(&f)
		if errors.Is(err, io.EOF) {
			return verdicts, transitions
		}
		require.NoError(t, err)
		v := e.Step(&s, &f, at)
		verdicts = v.Append(verdicts)
		transitions = append(transitions, v.Transitions()...)
	}
}
