package replay_test

import (
	"bytes"
	"context"
	"io"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/config"
	"headroom/daemon/replay"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// slow is a starving pump as a slow logger writes it: by hand, invented.
type slow struct {
	step time.Duration
	n    int
}

func (s *slow) Next(f *frame.Frame) (time.Duration, time.Time, error) {
	if s.n == 120 {
		return 0, time.Time{}, io.EOF
	}
	*f = frame.Frame{}
	f.Set(frame.InletPressure, 200e3)
	if s.n > 60 {
		f.Set(frame.InletPressure, -60e3-float64(s.n))
	}
	f.Set(frame.MotorCurrent, 12+0.01*float64(s.n%7))
	s.n++
	return time.Duration(s.n-1) * s.step, time.Time{}, nil
}

func replaySlow(t *testing.T, step, maxGap time.Duration) *replay.Summary {
	t.Helper()
	cfg := replay.FitTo(config.Default().Engine, []frame.Channel{frame.InletPressure, frame.MotorCurrent})
	cfg.MaxGap = maxGap
	e, err := engine.New(cfg)
	require.NoError(t, err)
	res, err := replay.Run(context.Background(), e, &slow{step: step}, replay.Options{})
	require.NoError(t, err)
	return &replay.Summary{Result: res}
}

func textOf(t *testing.T, s *replay.Summary) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, replay.NewText(&b, units.SI).Summary(s))
	return b.String()
}

// TestASlowLoggerIsJudged at its own pace: without that, every row is a gap.
func TestASlowLoggerIsJudged(t *testing.T) {
	step, ok := replay.Pace(&slow{step: 10 * time.Second})
	require.True(t, ok)
	require.Equal(t, 10*time.Second, step)
	wide, err := replay.Bridge(step, 5*time.Second)
	require.NoError(t, err)
	require.Equal(t, 25*time.Second, wide, "two steps and a half: one row may be lost")

	s := replaySlow(t, step, wide)
	require.Equal(t, replay.BeyondLimits, s.Verdict())
	require.Zero(t, s.Totals.Gaps)
	require.Positive(t, s.Totals.Raised[engine.ActAlarm(engine.InletLow)])
	require.Empty(t, s.Doubt())
}

// TestEveryRowAGapIsNotJudged, and nothing in the report says otherwise.
func TestEveryRowAGapIsNotJudged(t *testing.T) {
	s := replaySlow(t, 10*time.Second, 5*time.Second)
	require.Equal(t, replay.NotJudged, s.Verdict())
	text := textOf(t, s)
	require.Contains(t, text, "NOT JUDGED")
	require.Contains(t, text, "Inlet pressure, high: never between two rows without a gap (states.max_gap)")
	require.NotContains(t, text, ": watching\n")
	require.Contains(t, text, "lie in gaps and were not judged")
}

func TestBridge(t *testing.T) {
	for _, x := range []struct {
		step, want time.Duration
		ok         bool
	}{
		{100 * time.Millisecond, 5 * time.Second, true},
		{5 * time.Second, 5 * time.Second, true},
		{6 * time.Second, 15 * time.Second, true},
		{4 * time.Minute, 10 * time.Minute, true},
		{5 * time.Minute, 5 * time.Second, false},
	} {
		got, err := replay.Bridge(x.step, 5*time.Second)
		require.Equal(t, x.want, got, x.step)
		require.Equal(t, x.ok, err == nil, "%v: %v", x.step, err)
	}
	_, ok := replay.Pace(&slow{n: 119})
	require.False(t, ok, "one row has no pace")
}

// TestNothingTellsWhatTheMachineDoes: an inlet gauge alone says nothing of the
// pump, so "within limits" is worth little, and the report says so.
func TestNothingTellsWhatTheMachineDoes(t *testing.T) {
	cfg := replay.FitTo(config.Default().Engine, []frame.Channel{frame.InletPressure})
	e, err := engine.New(cfg)
	require.NoError(t, err)
	res, err := replay.Run(context.Background(), e, &slow{step: time.Second}, replay.Options{})
	require.NoError(t, err)
	s := &replay.Summary{Result: res}
	require.Contains(t, s.Doubt(), "nothing told what the machine was doing")
	require.Contains(t, textOf(t, s), "nothing told what the machine was doing")
}
