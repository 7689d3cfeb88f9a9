package replay_test

import (
	"bytes"
	"context"
	"encoding/hex"
	"encoding/json"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/config"
	"headroom/daemon/replay"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

var update = flag.Bool("update", false, "write the golden files anew")

// job is an invented job made by arithmetic alone, so that every processor
// plays the very same frames: work, a supply that sags, a hot bypass, a shut
// tap, a dead sensor. Products are wrapped in float64() as in the engine, or
// arm64 would fuse them and play other frames.
type job struct {
	n, end int
	noise  uint64
}

func (j *job) rand() float64 {
	j.noise = j.noise*6364136223846793005 + 1442695040888963407
	return float64(float64(j.noise>>40)/(1<<23)) - 1
}

func (j *job) noisy(size float64) float64 { return float64(j.rand() * size) }

func (j *job) Next(f *frame.Frame) (time.Duration, time.Time, error) {
	if j.n == j.end {
		return 0, time.Time{}, io.EOF
	}
	j.n++
	at := j.n % 6000
	turning, flow, inlet, temp := 1.0, 7.6, 250e3, 288.15
	switch {
	case at < 200:
		turning, flow, inlet = 0, 0, 290e3 // static: higher than flowing
	case at >= 1500 && at < 2000:
		inlet = 250e3 - float64(float64(at-1500)*500)
		flow = 7.6 - float64(math.Max(0, float64(at-1800))*0.02)
	case at >= 2500 && at < 3800:
		flow, temp = 0, 288.15+float64(float64(at-2500)*0.04)
	case at >= 4200 && at < 4300:
		flow, inlet = 0, -60e3
	}
	*f = frame.Frame{}
	share := flow / 7.6
	f.Set(frame.InletPressure, inlet+j.noisy(2e3))
	f.Set(frame.WaterTemp, temp+j.noisy(0.1))
	f.Set(frame.Flow, math.Max(0, flow+j.noisy(0.05))/60e3)
	f.Set(frame.MotorCurrent, turning*(7+float64(7*share)+j.noisy(0.2)))
	f.Set(frame.OutletPressure, turning*(float64(8.1e6*float64(share*share))+j.noisy(5e4)))
	f.Set(frame.ShaftSpeed, turning*(28.75+j.noisy(0.1)))
	f.Set(frame.SupplyVoltage, 119+j.noisy(1))
	f.Set(frame.Vibration, 4+j.noisy(0.2))
	f.Set(frame.InletPulsation, 5e3+j.noisy(200))
	f.Set(frame.AmbientTemp, 293+j.noisy(0.05))
	f.Set(frame.Running, turning)
	f.Set(frame.PowerPresent, 1)
	if at >= 5000 && at < 5200 {
		f.Samples[frame.WaterTemp].Status = frame.Failed
	}
	return time.Duration(j.n) * 100 * time.Millisecond, time.Time{}, nil
}

// invented is the default machine without a trigger switch, so that a closed
// outlet must be told from flow and pressure.
func invented(t testing.TB) *engine.Engine {
	cfg := config.Default().Engine
	cfg.Signals[frame.Trigger].Fitted = false
	e, err := engine.New(cfg)
	require.NoError(t, err)
	return e
}

func golden(t *testing.T, name, got string) {
	path := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, string(want), got)
}

// The digest over every verdict of every frame is committed: amd64, arm64 and
// armv6 must all come to it. The other processors run this test under emulation
// in CI.
func TestSameVerdictsToTheLastBitOnEveryProcessor(t *testing.T) {
	res, err := replay.Run(t.Context(), invented(t), &job{end: 12000}, replay.Options{Digest: true})
	require.NoError(t, err)
	t.Logf("%s/%s", runtime.GOOS, runtime.GOARCH)
	golden(t, "digest.txt", hex.EncodeToString(res.Digest)+"\n")
}

func TestReportForPeople(t *testing.T) {
	for _, sys := range []units.System{units.US, units.SI} {
		var out bytes.Buffer
		text := replay.NewText(&out, sys)
		res, err := replay.Run(t.Context(), invented(t), &job{end: 6000}, replay.Options{OnTransition: text.Transition})
		require.NoError(t, err)
		require.NoError(t, text.Summary(&replay.Summary{Result: res}))
		golden(t, "report."+sys.String()+".txt", out.String())
	}
}

func TestLinesForPrograms(t *testing.T) {
	var out bytes.Buffer
	lines := replay.NewLines(&out, "job.csv")
	res, err := replay.Run(t.Context(), invented(t), &job{end: 6000}, replay.Options{OnTransition: lines.Transition})
	require.NoError(t, err)
	require.NoError(t, lines.Summary(&replay.Summary{Result: res}))
	golden(t, "lines.jsonl", out.String())
	for line := range strings.Lines(out.String()) {
		var object map[string]any
		require.NoError(t, json.Unmarshal([]byte(line), &object))
		require.Contains(t, []any{"transition", "summary"}, object["type"])
	}
}

func TestNotJudgedIsNoGoodNews(t *testing.T) {
	require.Equal(t, replay.NotJudged, (&replay.Summary{}).Verdict())
	var f replay.Summary
	f.Totals.Exposures[engine.InletHigh].WatchedS = 1
	require.Equal(t, replay.WithinLimits, f.Verdict())
	f.WorstLevel = engine.Act
	require.Equal(t, replay.BeyondLimits, f.Verdict())
}

type broken struct{ job }

func (b *broken) Next(f *frame.Frame) (time.Duration, time.Time, error) {
	if b.n == 100 {
		return 0, time.Time{}, io.ErrUnexpectedEOF
	}
	return b.job.Next(f)
}

func TestStopsWhereTheSourceBreaksAndKeepsWhatItHas(t *testing.T) {
	res, err := replay.Run(t.Context(), invented(t), &broken{job{end: 1000}}, replay.Options{})
	require.ErrorContains(t, err, "after 100 frames")
	require.EqualValues(t, 100, res.Totals.Frames)

	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = replay.Run(ctx, invented(t), &job{end: 1 << 30}, replay.Options{})
	require.ErrorIs(t, err, context.Canceled)
}

// Memory must not grow with the recording: a replay of ten times the frames
// allocates no more.
func TestMemoryDoesNotGrow(t *testing.T) {
	e := invented(t)
	count := func(n int) float64 {
		return testing.AllocsPerRun(1, func() {
			_, err := replay.Run(context.Background(), e, &job{end: n}, replay.Options{Digest: true})
			require.NoError(t, err)
		})
	}
	require.InDelta(t, count(3000), count(30000), 20)
}

// frames/op at ten frames a second: the multiple of real time is a tenth of the
// frames per second that the metric shows.
func BenchmarkReplay(b *testing.B) {
	e := invented(b)
	const n = 10000
	for b.Loop() {
		_, err := replay.Run(context.Background(), e, &job{end: n}, replay.Options{})
		require.NoError(b, err)
	}
	b.ReportMetric(float64(b.N)*n/10/b.Elapsed().Seconds(), "x-real-time")
}
