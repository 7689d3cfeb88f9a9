package sdnotify

import (
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func env(pairs map[string]string) func(string) string {
	return func(name string) string { return pairs[name] }
}

func listen(t *testing.T, name string) *net.UnixConn {
	l, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: name, Net: "unixgram"})
	require.NoError(t, err)
	t.Cleanup(func() { l.Close() })
	require.NoError(t, l.SetReadDeadline(time.Now().Add(10*time.Second)))
	return l
}

func received(t *testing.T, l *net.UnixConn) string {
	buf := make([]byte, 1024)
	n, err := l.Read(buf)
	require.NoError(t, err)
	return string(buf[:n])
}

// The words are those of the manual page sd_notify(3).
func TestMessages(t *testing.T) {
	for _, name := range []string{filepath.Join(t.TempDir(), "notify"), fmt.Sprintf("@headroom-test-%d", os.Getpid())} {
		l := listen(t, name)
		n, err := FromEnv(env(map[string]string{"NOTIFY_SOCKET": name}))
		require.NoError(t, err)
		for want, send := range map[string]func() error{
			"READY=1": n.Ready, "WATCHDOG=1": n.Alive, "STOPPING=1": n.Stopping,
			"STATUS=all well  and more": func() error { return n.Status("all well\r\nand more") },
		} {
			require.NoError(t, send())
			require.Equal(t, want, received(t, l))
		}
		require.NoError(t, n.Close())
		require.Error(t, n.Ready())
	}
}

func TestWatchdogOfTheEnvironment(t *testing.T) {
	name := filepath.Join(t.TempDir(), "notify")
	listen(t, name)
	for _, c := range []struct {
		usec, pid string
		want      time.Duration
	}{
		{"", "", 0}, {"3000000", "", 3 * time.Second}, {"3000000", strconv.Itoa(os.Getpid()), 3 * time.Second},
		{"3000000", "1", 0}, {"-1", "", 0}, {"soon", "", 0},
	} {
		n, err := FromEnv(env(map[string]string{"NOTIFY_SOCKET": name, "WATCHDOG_USEC": c.usec, "WATCHDOG_PID": c.pid}))
		require.NoError(t, err)
		require.Equal(t, c.want, n.Watchdog(), "%+v", c)
		require.NoError(t, n.Close())
	}
}

func TestWithoutAManagerNothingHappens(t *testing.T) {
	n, err := FromEnv(env(nil))
	require.NoError(t, err)
	require.Nil(t, n)
	require.NoError(t, n.Ready())
	require.NoError(t, n.Alive())
	require.NoError(t, n.Status("x"))
	require.NoError(t, n.Stopping())
	require.Zero(t, n.Watchdog())
	require.NoError(t, n.Close())
	_, err = FromEnv(env(map[string]string{"NOTIFY_SOCKET": "/does/not/exist"}))
	require.ErrorContains(t, err, "NOTIFY_SOCKET")
}

// A manager that never reads must not hold up the tick.
func TestAManagerThatDoesNotReadCostsLittle(t *testing.T) {
	name := filepath.Join(t.TempDir(), "notify")
	listen(t, name)
	n, err := FromEnv(env(map[string]string{"NOTIFY_SOCKET": name}))
	require.NoError(t, err)
	for range 10_000 {
		begin := time.Now()
		if err = n.Alive(); err != nil {
			require.Less(t, time.Since(begin), 2*time.Second)
			break
		}
	}
	require.ErrorIs(t, err, os.ErrDeadlineExceeded, "the queue is full")
	require.NoError(t, n.Close())
}
