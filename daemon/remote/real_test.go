package remote

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
)

// Prometheus as Debian ships it is the judge here.

func freePort(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	return l.Addr().String()
}

// realStore runs a Prometheus with a receiver, whose late samples may be so old.
func realStore(t testing.TB, late string, args ...string) (addr string) {
	t.Helper()
	program := testneed.Program(t, "prometheus", "prometheus")
	dir := t.TempDir()
	addr = freePort(t)
	conf := filepath.Join(dir, "prometheus.yml")
	text := "global: {scrape_interval: 1h}\n"
	if late != "" {
		text += "storage: {tsdb: {out_of_order_time_window: " + late + "}}\n"
	}
	require.NoError(t, os.WriteFile(conf, []byte(text), 0o600))
	prometheusFrom(t, program, addr, conf, args...)
	return addr
}

// prometheusFrom runs one with a configuration, and waits until it is ready.
func prometheusFrom(t testing.TB, program, addr, conf string, args ...string) (data string) {
	t.Helper()
	dir := t.TempDir()
	cmd := exec.Command(program, append([]string{"--config.file=" + conf, "--storage.tsdb.path=" + filepath.Join(dir, "data"),
		"--web.listen-address=" + addr, "--web.enable-remote-write-receiver", "--storage.tsdb.retention.time=10y"}, args...)...)
	out, err := os.Create(filepath.Join(dir, "log"))
	require.NoError(t, err)
	cmd.Stdout, cmd.Stderr = out, out
	require.NoError(t, cmd.Start())
	stop := sync.OnceFunc(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait() // it was killed, so its error says nothing
		_ = out.Close()
	})
	t.Cleanup(stop)
	ready := func() bool {
		resp, err := http.Get("http://" + addr + "/-/ready")
		if err == nil {
			resp.Body.Close()
		}
		return err == nil && resp.StatusCode == http.StatusOK
	}
	data = filepath.Join(dir, "data")
	for end := time.Now().Add(30 * time.Second); !ready(); time.Sleep(50 * time.Millisecond) {
		if time.Now().After(end) {
			said, _ := os.ReadFile(out.Name())
			t.Fatalf("prometheus is not ready at %s; it said:\n%s", addr, said)
		}
	}
	return data
}

// ask gives the value of an expression at a time.
func ask(t testing.TB, addr, expr string, at time.Time) float64 {
	t.Helper()
	q := url.Values{"query": {expr}, "time": {strconv.FormatFloat(float64(at.UnixMilli())/1000, 'f', 3, 64)}}
	resp, err := http.Get("http://" + addr + "/api/v1/query?" + q.Encode())
	require.NoError(t, err)
	defer resp.Body.Close()
	var a struct {
		Data struct {
			Result []struct{ Value [2]any }
		}
		Error string
	}
	require.NoError(t, json.NewDecoder(resp.Body).Decode(&a))
	require.Empty(t, a.Error)
	if len(a.Data.Result) == 0 {
		return 0
	}
	require.Len(t, a.Data.Result, 1, expr)
	v, err := strconv.ParseFloat(fmt.Sprint(a.Data.Result[0].Value[1]), 64)
	require.NoError(t, err)
	return v
}

// stored counts every sample of a machine: name by name, as an expression can't
// count over names.
func stored(t testing.TB, addr string, now time.Time) (n float64) {
	t.Helper()
	resp, err := http.Get("http://" + addr + "/api/v1/label/__name__/values?" + url.Values{"match[]": {`{machine="Jetter 1"}`}}.Encode())
	require.NoError(t, err)
	defer resp.Body.Close()
	var a struct{ Data []string }
	require.NoError(t, json.NewDecoder(resp.Body).Decode(&a))
	for _, name := range a.Data {
		n += ask(t, addr, "sum(count_over_time("+name+`{machine="Jetter 1"}[10d]))`, now)
	}
	return n
}

func live(t testing.TB, r Record, dir, addr string) Options {
	return Options{URL: "http://" + addr, Machine: "Jetter 1", Labels: []string{"site=yard"}, Record: func() Record { return r }, Folder: dir,
		Log: slog.New(slog.DiscardHandler), CatchUp: 100_000}
}

// runUntil runs a sender against a real store in real time.
func runUntil(t testing.TB, s *Sender, done func(Stats) bool) Stats {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	ended := make(chan struct{})
	go func() { defer close(ended); s.Run(ctx) }()
	for !done(s.Stats()) && ctx.Err() == nil {
		time.Sleep(20 * time.Millisecond)
	}
	require.NoError(t, ctx.Err(), "%+v", s.Stats())
	cancel()
	<-ended
	return s.Stats()
}

// recent are the same days, the last of which ends now: Prometheus takes
// nothing far from its own time without a window for late samples.
func recent(now time.Time) []boot {
	out := make([]boot, len(days))
	for i, d := range days {
		d.start = now.Add(d.start.Sub(days[len(days)-1].start)).Add(-40 * time.Minute).Truncate(time.Millisecond)
		out[i] = d
	}
	return out
}

// TestRealPrometheus: what is sent is stored, sample for sample, even where it
// is days late and other trailers are ahead; and sending it twice stores it
// once.
func TestRealPrometheus(t *testing.T) {
	addr := realStore(t, "30d")
	now := time.Now()
	dir := t.TempDir()
	r := recorded(t, dir, recent(now)...)
	defer r.Close()
	want := newShelf()
	ideal, err := New(func() Options {
		o := options(t, r, t.TempDir(), handler(want))
		o.Labels = []string{"site=yard"}
		return o
	}())
	require.NoError(t, err)
	begin(t, ideal, r)
	runUntil(t, ideal, func(s Stats) bool { return s.Boot == 4 && s.Minute >= 30 })

	ahead := &batch{common: []label{{machineLabel, "Jetter 2"}}, index: map[string]int{}}
	ahead.add(nameFresh, now.UnixMilli(), 1)
	p, err := newPoster(&Options{URL: "http://" + addr, Protocol: V1}, func(string) {})
	require.NoError(t, err)
	got, err := p.send(t.Context(), ahead.all, false)
	require.NoError(t, err)
	require.Equal(t, taken, got)

	for range 2 { // the second time everything is there already
		s, err := New(live(t, r, t.TempDir(), addr))
		require.NoError(t, err)
		begin(t, s, r)
		st := runUntil(t, s, func(s Stats) bool { return s.Boot == 4 && s.Minute >= 30 })
		require.Zero(t, st.Refused)
		require.Equal(t, uint64(want.samples()), st.Sent+st.Known)
		require.InDelta(t, want.samples(), stored(t, addr, now), 0)
	}
	values(t, addr, want, now)
}

// values compares single samples and sums over all of them.
func values(t *testing.T, addr string, want *shelf, now time.Time) {
	t.Helper()
	for _, name := range []string{"headroom_pressure_min_pascals", "headroom_pressure_pascals"} {
		sum := 0.0
		samples := []sample{}
		for k, one := range want.series {
			if contains(k, name, "inlet_pressure") {
				for ms, v := range one {
					sum += v
					samples = append(samples, sample{ms, v})
				}
			}
		}
		require.NotEmpty(t, samples)
		expr := name + `{machine="Jetter 1",channel="inlet_pressure"}`
		require.InEpsilon(t, sum, ask(t, addr, "sum_over_time("+expr+"[10d])", now), 1e-9)
		for i := 0; i < len(samples); i += 29 {
			require.Equal(t, samples[i].value, ask(t, addr, expr, time.UnixMilli(samples[i].ms)))
		}
	}
}

func contains(key, name, channel string) bool {
	return len(key) > 0 && key == fmt.Sprintf("__name__=%q,channel=%q,machine=\"Jetter 1\",site=\"yard\",", name, channel)
}

func begin(t testing.TB, s *Sender, r Record) {
	t.Helper()
	name, err := r.RecordName(t.Context())
	require.NoError(t, err)
	s.st.Record, s.st.At = name, place{Boot: 1}
	require.NoError(t, s.st.save(s.path))
}

// Debian's Prometheus answers 2xx to version 2 and stores nothing of it. That
// must be seen, said, and nothing be lost.
func TestRealPrometheusThatStoresNothingOfVersion2(t *testing.T) {
	addr := realStore(t, "30d")
	dir := t.TempDir()
	r := recorded(t, dir, recent(time.Now())...)
	defer r.Close()
	opt := live(t, r, dir, addr)
	opt.Protocol = V2
	s, err := New(opt)
	require.NoError(t, err)
	begin(t, s, r)
	st := runUntil(t, s, func(s Stats) bool { return s.Failing != "" })
	require.Contains(t, st.Failing, `set remote.protocol to "v1"`)
	require.Zero(t, st.Sent+st.Refused)
	require.Zero(t, stored(t, addr, time.Now()))

	opt.Protocol = V1
	s, err = New(opt)
	require.NoError(t, err)
	st = runUntil(t, s, func(s Stats) bool { return s.Boot == 4 && s.Minute >= 30 })
	require.Zero(t, st.Refused)
	require.InDelta(t, st.Sent+st.Known, stored(t, addr, time.Now()), 0)
}

// A store that takes nothing so late refuses it: counted, never for ever, and
// what is new arrives.
func TestRealPrometheusThatTakesNothingLate(t *testing.T) {
	for _, late := range []string{"", "1h"} {
		t.Run("window "+late, func(t *testing.T) {
			addr := realStore(t, late)
			now := time.Now()
			p, err := newPoster(&Options{URL: "http://" + addr, Protocol: V1}, func(string) {})
			require.NoError(t, err)
			ahead := newBatch([]label{{machineLabel, "Jetter 2"}})
			ahead.add(nameFresh, now.UnixMilli(), 1)
			_, err = p.send(t.Context(), ahead.all, false)
			require.NoError(t, err)
			dir := t.TempDir()
			r := recorded(t, dir, recent(now)...)
			defer r.Close()
			s, err := New(live(t, r, dir, addr))
			require.NoError(t, err)
			begin(t, s, r)
			st := runUntil(t, s, func(s Stats) bool { return s.Boot == 4 && s.Minute >= 30 })
			require.Greater(t, st.Refused, uint64(1000))
			got := stored(t, addr, now)
			require.InDelta(t, st.Sent+st.Known, got, 0)
			require.Greater(t, got, 1000.0)
			require.NotZero(t, ask(t, addr, `count_over_time(headroom_fresh{machine="Jetter 1"}[40m])`, now))
		})
	}
}
