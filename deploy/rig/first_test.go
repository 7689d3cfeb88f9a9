//go:build rig

package rig

import (
	"bufio"
	"context"
	"encoding/json"
	"net/http"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/rig/meter"
)

// How long after power-on is the first reading? The kernel's share and the
// daemon's are told apart, since the guest's emulated processor is no board's,
// and the models' plugging is left out: on a board the buses are there when the
// kernel is. What can be carried over is a ratio: the same daemon with its
// simulator, in the guest and on the host.
func TestFirstReading(t *testing.T) {
	host := firstOnHost(t)
	m := meter.New(1)
	d := &daemon{guest: bootImage(t, daemonImage, Options{Serial: m.Serve}), meter: m}
	simulated := d.firstSimulated()
	d.rest()
	d.do("i2c plug")
	d.do("wire plug")
	r := d.firstReal()
	kernel := d.initBegan()
	t.Logf("kernel: %.2f s from power-on to the first program (stock kernel; no firmware and no boot loader before it)", kernel.Seconds())
	t.Logf("daemon with real sensors: page with a first verdict after %.2f s, first good reading (%s) after %.2f s, all %d channels after %.2f s",
		r.verdict.Seconds(), r.channel, r.good.Seconds(), len(d.want), r.all.Seconds())
	t.Logf("kernel start to first good reading published: %.2f s, %.0f %% of it the kernel's", (kernel + r.good).Seconds(), 100*kernel.Seconds()/(kernel+r.good).Seconds())
	t.Logf("daemon with its simulator, start to first verdict: %.2f s in the guest, %.2f s on this host: the guest is %.1f times slower",
		simulated.Seconds(), host.Seconds(), simulated.Seconds()/host.Seconds())
	require.LessOrEqual(t, host, 500*time.Millisecond, "our own share of the start, on the host")
	d.end()
}

// firsts are times since the daemon's start.
type firsts struct {
	verdict, good, all time.Duration
	channel            string
}

// firstReal starts the daemon on the board's sensors.
func (d *daemon) firstReal() (f firsts) {
	d.t.Helper()
	begun, s := d.firstPage("real", "-config /headroom.toml")
	f.verdict = s.at - begun
	d.await(60*time.Second, func(s seen) string {
		for _, c := range channelNames(d.want) {
			if f.channel == "" && s.channels[c].status == "good" {
				f.channel, f.good = c, s.at-begun
			}
		}
		f.all = s.at - begun
		return d.allWrong(s)
	})
	return f
}

// firstSimulated starts the daemon without a config, and ends it.
func (d *daemon) firstSimulated() time.Duration {
	d.t.Helper()
	begun, s := d.firstPage("simulated", "")
	d.do("child signal simulated KILL")
	return s.at - begun
}

// firstPage starts the daemon and asks for its page as often as it goes.
func (d *daemon) firstPage(name, flags string) (begun time.Duration, s seen) {
	d.t.Helper()
	l, err := d.Do("child start %s 5 /headroom run -record /tmp/%s %s", name, name, flags)
	require.NoError(d.t, err)
	for d.last = (seen{}); ; {
		if s, ok := d.fetched(); ok {
			d.last = s
			return l.Uptime, s
		}
		up, err := d.Do("read /proc/uptime")
		require.NoError(d.t, err)
		require.Less(d.t, up.Uptime-l.Uptime, 30*time.Second, "the daemon serves no page")
	}
}

// firstOnHost builds the daemon for this machine and returns the shortest of
// some starts: what the host's other work adds is not the daemon's.
func firstOnHost(t *testing.T) time.Duration {
	t.Helper()
	program := filepath.Join(t.TempDir(), "headroom")
	build := exec.Command("go", "build", "-o", program, "headroom/daemon")
	out, err := build.CombinedOutput()
	require.NoError(t, err, "%s", out)
	shortest := time.Hour
	for range 5 {
		shortest = min(shortest, startOnHost(t, program))
	}
	return shortest
}

func startOnHost(t *testing.T, program string) time.Duration {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), 20*time.Second)
	defer stop()
	cmd := exec.CommandContext(ctx, program, "run", "-listen", "127.0.0.1:0", "-record", t.TempDir())
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	begin := time.Now()
	require.NoError(t, cmd.Start())
	defer func() { stop(); _ = cmd.Wait() }()
	url := ""
	for sc := bufio.NewScanner(out); url == "" && sc.Scan(); {
		if _, rest, found := strings.Cut(sc.Text(), "Dashboard: "); found {
			url, _, _ = strings.Cut(rest, " ")
		}
	}
	require.NotEmpty(t, url, "the daemon says where its dashboard is")
	for {
		if answered(ctx, url+"api/v1/status") {
			return time.Since(begin)
		}
		require.NoError(t, ctx.Err(), "no verdict")
		time.Sleep(2 * time.Millisecond)
	}
}

// answered tells whether the page has a verdict.
func answered(ctx context.Context, url string) bool {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, url, nil)
	if err != nil {
		return false
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		return false
	}
	defer res.Body.Close()
	var page struct {
		Seq uint64 `json:"seq"`
	}
	return res.StatusCode == http.StatusOK && json.NewDecoder(res.Body).Decode(&page) == nil && page.Seq > 0
}
