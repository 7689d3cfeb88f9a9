package app_test

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/app"
	"headroom/daemon/config"
	"headroom/deploy/testneed"
)

// loopback gives a free address.
func loopback(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	return l.Addr().String()
}

// program runs one of Debian's programs until the test ends.
func program(t *testing.T, name string, args ...string) {
	t.Helper()
	cmd := exec.Command(name, args...)
	log, err := os.Create(filepath.Join(t.TempDir(), "log"))
	require.NoError(t, err)
	cmd.Stdout, cmd.Stderr = log, log
	require.NoError(t, cmd.Start())
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait() // it was killed, so its error says nothing
		if t.Failed() {
			said, _ := os.ReadFile(log.Name())
			t.Logf("%s said:\n%s", name, said)
		}
		_ = log.Close()
	})
}

func asked(addr string, into any) bool {
	resp, err := http.Get(addr)
	if err != nil {
		return false
	}
	defer resp.Body.Close()
	return json.NewDecoder(resp.Body).Decode(into) == nil
}

// The whole way of an alarm: the simulated pump starves, the running program
// says so, Debian's Prometheus scrapes it and fires the generated rule, and
// Debian's Alertmanager has it, with the machine's own words.
func TestAnAlarmReachesTheAlertmanager(t *testing.T) {
	prom := testneed.Program(t, "prometheus", "prometheus")
	am := testneed.Program(t, "prometheus-alertmanager", "prometheus-alertmanager", "alertmanager")
	opt := options(t, demoDriver(t))
	opt.Listen, opt.Speed, opt.Folder = "127.0.0.1:0", 20, t.TempDir()
	a, err := app.New(opt)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- a.Run(ctx) }()
	target, err := url.Parse(a.URL())
	require.NoError(t, err)

	dir, pAddr, aAddr := t.TempDir(), loopback(t), loopback(t)
	rules, err := filepath.Abs("../../deploy/prometheus/alerts.yml")
	require.NoError(t, err)
	conf := filepath.Join(dir, "prometheus.yml")
	require.NoError(t, os.WriteFile(conf, []byte(fmt.Sprintf(`
global: {scrape_interval: 250ms, evaluation_interval: 250ms}
rule_files: [%q]
alerting: {alertmanagers: [{static_configs: [{targets: [%q]}]}]}
scrape_configs: [{job_name: headroom, static_configs: [{targets: [%q]}]}]
`, rules, aAddr, target.Host)), 0o600))
	program(t, am, "--config.file="+filepath.Join("..", "..", "deploy", "prometheus", "fleet", "alertmanager.yml"), "--storage.path="+dir,
		"--web.listen-address="+aAddr, "--cluster.listen-address=")
	program(t, prom, "--config.file="+conf, "--storage.tsdb.path="+filepath.Join(dir, "data"), "--web.listen-address="+pAddr)

	type alert struct{ Labels, Annotations map[string]string }
	var got alert
	require.Eventually(t, func() bool {
		var all []alert
		if !asked("http://"+aAddr+"/api/v2/alerts", &all) {
			return false
		}
		for _, x := range all {
			if x.Labels["alarm"] == "inlet_low.act" {
				got = x
				return true
			}
		}
		return false
	}, 90*time.Second, 200*time.Millisecond, "the alarm must reach the Alertmanager")
	require.Equal(t, "HeadroomInletLowAct", got.Labels["alertname"])
	require.Equal(t, "act", got.Labels["severity"])
	require.Equal(t, "inlet_low", got.Labels["rule"])
	require.Equal(t, target.Host, got.Labels["instance"])
	require.Equal(t, target.Host+": Pump is starving", got.Annotations["summary"])
	require.Contains(t, got.Annotations["action"], "stop the pump")

	var up struct {
		Data struct{ Result []struct{ Value [2]any } }
	}
	require.True(t, asked("http://"+pAddr+"/api/v1/query?query="+url.QueryEscape(`up{job="headroom"} == 1 and on (instance) headroom_fresh == 1`), &up))
	require.Len(t, up.Data.Result, 1)
	cancel()
	require.NoError(t, <-done)
	require.NoError(t, a.Close())
}

// The program sends its record: a working store gets every minute, and one
// that can't be reached is on the metrics, and never stops the watching.
func TestTheRecordIsSent(t *testing.T) {
	var messages, bytes atomic.Int64
	srv := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		n, _ := io.Copy(io.Discard, r.Body)
		bytes.Add(n)
		if messages.Add(1) > 5 {
			http.Error(w, "who are you?", http.StatusUnauthorized)
		}
	}))
	srv.Config.SetKeepAlivesEnabled(false) // virtual time stands still while a connection is open
	srv.Start()
	defer srv.Close()
	folder := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		opt := options(t, demoDriver(t))
		cfg := *opt.Config
		cfg.Remote = config.Remote{URL: srv.URL, Protocol: "v1", Window: "10 s", Every: time.Minute, CatchUp: 600}
		opt.Config, opt.Folder, opt.WallSynced = &cfg, folder, func() bool { return true }
		a, err := app.New(opt)
		require.NoError(t, err)
		ctx, cancel := context.WithTimeout(t.Context(), 8*time.Minute)
		defer cancel()
		require.NoError(t, a.Run(ctx))
		require.NoError(t, a.Close())
		require.Greater(t, a.Store().Latest().Seq, uint64(4700), "ten ticks a second all the time")
		m, ok := app.RemoteMetrics(a)
		require.True(t, ok)
		require.True(t, m.Failing)
		require.Equal(t, uint64(5), m.Minutes)
		require.Greater(t, m.Sent, uint64(500))
		require.Greater(t, m.Behind, 2*time.Minute)
	})
	require.Greater(t, bytes.Load(), int64(2000))
}

func TestASenderThatCantBeIsSaid(t *testing.T) {
	opt := options(t, demoDriver(t))
	cfg := *opt.Config
	cfg.Remote = config.Remote{URL: "store.example:9090", Every: time.Minute, CatchUp: 600}
	opt.Config, opt.Folder = &cfg, t.TempDir()
	_, err := app.New(opt)
	require.ErrorContains(t, err, "see [remote] in the config")
	require.ErrorContains(t, err, "must begin with http")
	opt.Folder, cfg.Remote.URL = "", "http://store.invalid"
	a, err := app.New(opt)
	require.NoError(t, err, "without a record there is nothing to send")
	require.NoError(t, a.Close())
}
