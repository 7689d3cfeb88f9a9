package remote

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
)

// trailers of the example fleet.
const trailers = 1000

// fleetConfig copies the example's files, with its addresses and paces made
// fit for a test.
func fleetConfig(t *testing.T, addr string) string {
	t.Helper()
	from, to := filepath.Join(testneed.Root(t), "deploy", "prometheus"), t.TempDir()
	for _, name := range []string{"alerts.yml", "fleet/prometheus.yml", "fleet/recording.yml", "fleet/web.yml"} {
		text, err := os.ReadFile(filepath.Join(from, name))
		require.NoError(t, err)
		s := strings.NewReplacer("127.0.0.1:9090", addr, "evaluation_interval: 1m", "evaluation_interval: 5s", "interval: 1m\n    rules", "interval: 5s\n    rules").Replace(string(text))
		path := filepath.Join(to, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(s), 0o600))
	}
	return filepath.Join(to, "fleet")
}

// quarter is what one trailer sends of a quarter of an hour of work, made by the
// real sender from a real record.
func quarter(t *testing.T, end time.Time) []series {
	t.Helper()
	dir := t.TempDir()
	r := recorded(t, dir, boot{start: end.Add(-16 * time.Minute).Truncate(time.Second), minutes: 16, trust: 2})
	defer r.Close()
	to := newShelf()
	opt := options(t, r, t.TempDir(), handler(to))
	opt.mostMinutes = 15
	s, err := New(opt)
	require.NoError(t, err)
	begin(t, s, r)
	b, after, err := s.collect(t.Context(), r)
	require.NoError(t, err)
	require.Equal(t, int64(15), after.Minute)
	return b.all
}

// named gives the series another machine's name.
func named(all []series, machine string) []series {
	out := make([]series, len(all))
	for i := range all {
		out[i] = series{append([]label(nil), all[i].labels...), all[i].samples}
		for j := range out[i].labels {
			if out[i].labels[j].name == machineLabel {
				out[i].labels[j].value = machine
			}
		}
	}
	return out
}

// TestAThousandTrailers: the example's store takes what a thousand trailers
// send, loses none of it, and its rules answer an owner's questions.
func TestAThousandTrailers(t *testing.T) {
	program := testneed.Program(t, "prometheus", "prometheus")
	addr := freePort(t)
	folder := fleetConfig(t, addr)
	data := prometheusFrom(t, program, addr, filepath.Join(folder, "prometheus.yml"), "--web.config.file="+filepath.Join(folder, "web.yml"), "--web.enable-admin-api")
	now := time.Now()
	one := quarter(t, now)
	before := about(t, addr)
	begun := time.Now()
	var all sync.WaitGroup
	errs := make([]error, trailers)
	gate := make(chan struct{}, 8)
	for i := range trailers {
		all.Go(func() {
			gate <- struct{}{}
			defer func() { <-gate }()
			errs[i] = deliverOne(t.Context(), addr, named(one, trailer(i)))
		})
	}
	all.Wait()
	took := time.Since(begun)
	for i := range errs {
		require.NoError(t, errs[i], trailer(i))
	}
	after := about(t, addr)
	want := float64(trailers * count(one))
	require.InDelta(t, want, storedOf(t, addr, one, now.Add(time.Minute)), 0, "none is lost")
	t.Logf("%d trailers, %d series and %.0f samples in %v (%.0f samples/s); store: %.0f MB resident, %.1f kB a series; %.2f bytes a sample on disk",
		trailers, trailers*len(one), want, took.Round(time.Millisecond), want/took.Seconds(), after["process_resident_memory_bytes"]/1e6,
		(after["process_resident_memory_bytes"]-before["process_resident_memory_bytes"])/float64(trailers*len(one))/1e3, onDisk(t, addr, data)/want)
	answers(t, addr, one)
}

func trailer(i int) string { return fmt.Sprintf("Trailer %04d (invented)", i+1) }

func deliverOne(ctx context.Context, addr string, all []series) error {
	p, err := newPoster(&Options{URL: "http://" + addr, Protocol: V1}, func(string) {})
	if err != nil {
		return err
	}
	defer p.wire.next.CloseIdleConnections()
	got, err := p.send(ctx, all, false)
	if err == nil && got != taken {
		err = fmt.Errorf("answered %d", got)
	}
	return err
}

// storedOf counts the samples of the trailers, name by name.
func storedOf(t *testing.T, addr string, one []series, now time.Time) (n float64) {
	t.Helper()
	names := map[string]bool{}
	for i := range one {
		for _, l := range one[i].labels {
			if l.name == nameLabel {
				names[l.value] = true
			}
		}
	}
	for name := range names {
		n += ask(t, addr, "sum(count_over_time("+name+`{machine=~"Trailer.*"}[1h]))`, now)
	}
	return n
}

// about reads single figures of the store's own metrics.
func about(t *testing.T, addr string) map[string]float64 {
	t.Helper()
	resp, err := http.Get("http://" + addr + "/metrics")
	require.NoError(t, err)
	defer resp.Body.Close()
	out := map[string]float64{}
	for lines := bufio.NewScanner(resp.Body); lines.Scan(); {
		name, value, ok := strings.Cut(lines.Text(), " ")
		if v, err := strconv.ParseFloat(value, 64); ok && err == nil {
			out[name] = v
		}
	}
	return out
}

// answers waits for the recording rules and holds them against what was sent.
func answers(t *testing.T, addr string, one []series) {
	t.Helper()
	turning, worst := 0.0, 9.0
	for i := range one {
		l := map[string]string{}
		for _, x := range one[i].labels {
			l[x.name] = x.value
		}
		switch last := one[i].samples[len(one[i].samples)-1].value; {
		case l[nameLabel] == nameInState && (l["state"] == "running" || l["state"] == "bypassing" || l["state"] == "starting"):
			turning += last
		case l[nameLabel] == nameHeadroom:
			for _, p := range one[i].samples {
				worst = min(worst, p.value)
			}
		}
	}
	require.Greater(t, turning, 600.0)
	require.Less(t, worst, 0.2)
	for expr, want := range map[string]float64{
		"fleet:headroom_working:count":                                                       trailers,
		`machine:headroom_pump_turning_seconds:life{machine="` + trailer(41) + `"}`:          turning,
		`min(machine_rule:headroom_rule_headroom_ratio:min1d{machine="` + trailer(7) + `"})`: worst,
		"count(fleet:headroom_rule_headroom_ratio:worst)":                                    10,
		"count(machine:headroom_rule_headroom_ratio:min5m)":                                  trailers,
	} {
		require.Eventually(t, func() bool {
			got := ask(t, addr, expr, time.Now())
			return got > want-1e-6 && got < want+1e-6
		}, time.Minute, time.Second, "%s must become %g, is %g", expr, want, ask(t, addr, expr, time.Now()))
	}
	resp, err := http.Get("http://" + addr + "/api/v1/rules?" + url.Values{"type": {"record"}}.Encode())
	require.NoError(t, err)
	defer resp.Body.Close()
	var a struct {
		Data struct {
			Groups []struct {
				Rules []struct{ Name, Health, LastError string }
			}
		}
	}
	require.NoError(t, json.NewDecoder(resp.Body).Decode(&a))
	for _, g := range a.Data.Groups {
		for _, r := range g.Rules {
			require.Equal(t, "ok", r.Health, "%s: %s", r.Name, r.LastError)
		}
	}
}

// onDisk is the size of all as a block of the store, as it lies on disk later.
func onDisk(t *testing.T, addr, data string) (bytes float64) {
	t.Helper()
	resp, err := http.Post("http://"+addr+"/api/v1/admin/tsdb/snapshot", "", nil)
	require.NoError(t, err)
	defer resp.Body.Close()
	require.Equal(t, http.StatusOK, resp.StatusCode)
	require.NoError(t, filepath.WalkDir(filepath.Join(data, "snapshots"), func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			info, e := d.Info()
			if err = e; e == nil {
				bytes += float64(info.Size())
			}
		}
		return err
	}))
	return bytes
}
