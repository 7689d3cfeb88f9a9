package app_test

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/app"
	"headroom/daemon/config"
	"headroom/daemon/replay"
	"headroom/daemon/rerun"
	"headroom/daemon/store"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/scenario"
	"headroom/sensors/sim"
)

func demoDriver(t *testing.T) sensors.Driver {
	s, err := scenario.Demo()
	require.NoError(t, err)
	d, err := sim.New(sim.Options{Scenario: s, Loop: true})
	require.NoError(t, err)
	return d
}

func options(t *testing.T, d ...sensors.Driver) app.Options {
	return app.Options{
		Config: config.Default(), ConfigText: []byte("# test\n"), Drivers: d,
		Version: "test", Log: slog.New(slog.DiscardHandler),
	}
}

// The whole demo, with its drivers, tick and record, runs in a bubble of
// virtual time. What was recorded is then replayed: the transitions must be
// the same to the last bit, since both went through the same engine.
func TestRecordOfALiveRunReplaysToTheSameAlarms(t *testing.T) {
	folder := t.TempDir()
	live := map[string]bool{}
	synctest.Test(t, func(t *testing.T) {
		opt := options(t, demoDriver(t))
		opt.Folder = folder
		a, err := app.New(opt)
		require.NoError(t, err)
		ctx, cancel := context.WithTimeout(t.Context(), 8*time.Minute)
		defer cancel()
		require.NoError(t, a.Run(ctx))
		require.NoError(t, a.Close())
		for _, e := range a.Store().Events(0) {
			live[describe(e.Transition)] = true
		}
		require.Greater(t, a.Store().Latest().Seq, uint64(4700), "ten ticks a second")
		require.Zero(t, a.Store().Latest().Health.RecordDropped)
	})
	require.Greater(t, len(live), 10, "the demo raises and clears alarms")

	replayed := map[string]bool{}
	res, err := rerun.Run(t.Context(), reader(t, folder), store.RunID{Boot: 1}, rerun.Options{
		Replay: replay.Options{OnTransition: func(tr engine.Transition, _ time.Time) { replayed[describe(tr)] = true }},
	})
	require.NoError(t, err)
	require.Empty(t, res.Lost)
	require.Equal(t, live, replayed)
	require.Equal(t, "test", res.Info.Software)
}

// describe is a transition with every number to its last bit.
func describe(tr engine.Transition) string { return string(tr.Append(nil)) }

func get(t *testing.T, url string) (int, string) {
	res, err := http.Get(url)
	require.NoError(t, err)
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	return res.StatusCode, string(body)
}

func TestServesPageMetricsAndHealthOnAFreePort(t *testing.T) {
	opt := options(t, demoDriver(t))
	opt.Listen, opt.Speed, opt.Folder = "127.0.0.1:0", 20, t.TempDir()
	a, err := app.New(opt)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- a.Run(ctx) }()
	require.Eventually(t, func() bool { s := a.Store().Latest(); return s != nil && s.Seq > 20 }, 20*time.Second, 20*time.Millisecond)

	for path, want := range map[string]string{
		"": "Headroom", "metrics": "headroom_rule_headroom_ratio", "-/ready": "ready", "-/healthy": "healthy",
		"api/v1/status": `"machine_state":"`, "cautions": "certified",
	} {
		code, body := get(t, a.URL()+path)
		require.Equal(t, http.StatusOK, code, path)
		require.Contains(t, body, want, path)
	}
	cancel()
	select {
	case err := <-done:
		require.NoError(t, err)
	case <-time.After(20 * time.Second):
		t.Fatal("did not stop")
	}
	require.NoError(t, a.Close())
}

// A driver that never returns costs its own channels a status and nothing
// else: the tick goes on, the other channels stay good, and the program stops
// when it is told to.
type hung struct{ release chan struct{} }

func (hung) Name() string              { return "hung bus" }
func (hung) Channels() []frame.Channel { return []frame.Channel{frame.WaterTemp} }
func (h hung) Run(context.Context, func() time.Duration, func(sensors.Reading)) error {
	<-h.release // ignores ctx, as a stuck system call does
	return nil
}

type steady struct{}

func (steady) Name() string              { return "steady" }
func (steady) Channels() []frame.Channel { return []frame.Channel{frame.InletPressure} }
func (steady) Run(ctx context.Context, clock func() time.Duration, post func(sensors.Reading)) error {
	t := time.NewTicker(50 * time.Millisecond)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-t.C:
			post(sensors.Reading{Channel: frame.InletPressure, Sample: frame.Sample{Value: 2e5, Status: frame.Good}, At: clock()})
		}
	}
}

func TestHungDriverDelaysNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := hung{make(chan struct{})}
		a, err := app.New(options(t, h, steady{}))
		require.NoError(t, err)
		ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
		defer cancel()
		require.NoError(t, a.Run(ctx))
		s := a.Store().Latest()
		require.GreaterOrEqual(t, s.Seq, uint64(98))
		require.Zero(t, s.Health.LateTicks)
		require.Equal(t, frame.Good, s.Verdicts.Samples[frame.InletPressure].Status)
		require.Equal(t, frame.Missing, s.Verdicts.Samples[frame.WaterTemp].Status)
		require.Equal(t, engine.NoReading, s.Verdicts.Rules[engine.WaterHot].Judge)
		close(h.release)
	})
}

func TestRecordThatCannotBeWrittenDoesNotStopTheWatching(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(folder, nil, 0o644)) // a file where the folder should be
	synctest.Test(t, func(t *testing.T) {
		opt := options(t, demoDriver(t))
		opt.Folder = folder
		a, err := app.New(opt)
		require.NoError(t, err)
		ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
		defer cancel()
		_ = a.Run(ctx)
		s := a.Store().Latest()
		require.GreaterOrEqual(t, s.Seq, uint64(298))
		require.NotEmpty(t, s.Health.RecordError)
	})
}

func TestSecondProgramOverTheSameRecordIsRefused(t *testing.T) {
	opt := options(t, demoDriver(t))
	opt.Folder = t.TempDir()
	a, err := app.New(opt)
	require.NoError(t, err)
	_, err = app.New(opt)
	require.ErrorContains(t, err, "-record")
	require.NoError(t, a.Close())
	b, err := app.New(opt)
	require.NoError(t, err, "the lock goes with the program")
	require.NoError(t, b.Close())
}

func TestPortInUseNamesTheMend(t *testing.T) {
	opt := options(t, demoDriver(t))
	opt.Listen = "127.0.0.1:0"
	a, err := app.New(opt)
	require.NoError(t, err)
	defer a.Close()
	opt.Listen = strings.TrimSuffix(strings.TrimPrefix(a.URL(), "http://"), "/")
	_, err = app.New(opt)
	require.ErrorContains(t, err, "-listen")
}
