package app_test

import (
	"context"
	"net"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/app"
	"headroom/daemon/sdnotify"
	"headroom/rules/engine"
)

// lamps are outputs that record what they were told.
type lamps struct {
	mu    sync.Mutex
	ticks int
	last  time.Duration
	ended time.Duration
	began time.Time
}

func (l *lamps) Tick(v *engine.Verdicts, now time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.ticks++
	l.last = now
}

func (l *lamps) Run(ctx context.Context) {
	<-ctx.Done()
	l.mu.Lock()
	defer l.mu.Unlock()
	l.ended = time.Since(l.began)
}

func TestOutputsAreToldEveryTickAndEndAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &lamps{began: time.Now()}
		opt := options(t, steady{})
		opt.Outputs = l
		a, err := app.New(opt)
		require.NoError(t, err)
		ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
		defer cancel()
		require.NoError(t, a.Run(ctx))
		require.InDelta(t, 100, l.ticks, 2)
		require.Equal(t, 10*time.Second, l.ended)
		require.NoError(t, a.Close())
	})
}

// The manager hears of the start, of life from the tick, and of the end.
func TestTheServiceManagerIsTold(t *testing.T) {
	name := filepath.Join(t.TempDir(), "notify")
	l, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: name, Net: "unixgram"})
	require.NoError(t, err)
	defer l.Close()
	var order []string
	count := map[string]int{}
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	heard := make(chan struct{})
	go func() { // the kernel holds ten messages for a reader that is late
		defer close(heard)
		buf := make([]byte, 512)
		for n, err := l.Read(buf); err == nil; n, err = l.Read(buf) {
			order = append(order, string(buf[:n]))
			if count[string(buf[:n])]++; count["WATCHDOG=1"] == 5 {
				cancel() // that it lives is shown
			}
		}
	}()
	env := map[string]string{"NOTIFY_SOCKET": name, "WATCHDOG_USEC": "300000"}
	manager, err := sdnotify.FromEnv(func(key string) string { return env[key] })
	require.NoError(t, err)
	opt := options(t, steady{})
	opt.Manager, opt.Tick = manager, 20*time.Millisecond
	a, err := app.New(opt)
	require.NoError(t, err)
	require.NoError(t, a.Run(ctx))
	require.NoError(t, a.Close())
	require.NoError(t, manager.Close())
	require.NoError(t, l.SetReadDeadline(time.Now().Add(100*time.Millisecond)))
	<-heard
	require.Equal(t, "READY=1", order[0])
	require.Equal(t, 1, count["STOPPING=1"])
	stopping := slices.Index(order, "STOPPING=1")
	require.GreaterOrEqual(t, count["WATCHDOG=1"], 5)
	for _, m := range order[stopping+1:] {
		require.Equal(t, "WATCHDOG=1", m, "the tick runs on until the web has ended, and nothing else is said")
	}
	require.Contains(t, order[1], "STATUS=")
	ticks := int(a.Store().Latest().Seq)
	require.LessOrEqual(t, count["WATCHDOG=1"], ticks/5+1, "a tick every 20 ms, a sign of life every 100 ms")
	require.GreaterOrEqual(t, count["WATCHDOG=1"], ticks/10, "and no fewer; a late reader may lose some")
}
