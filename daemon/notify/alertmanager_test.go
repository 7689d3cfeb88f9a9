package notify

import (
	"encoding/json"
	"io"
	"net/http"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
)

// amFake is a server that keeps alerts like the API v2 does: by their labels,
// with a clock of its own, refusing those that end before they begin.
type amFake struct {
	mu     sync.Mutex
	ahead  time.Duration // what its clock is ahead of ours
	alerts map[string]alert
	posts  int
	broken int // status to answer with instead
}

func (a *amFake) now() time.Time { return time.Now().Add(a.ahead) }

func (a *amFake) handle(w http.ResponseWriter, r *http.Request) {
	a.mu.Lock()
	defer a.mu.Unlock()
	w.Header().Set("Date", a.now().UTC().Format(http.TimeFormat))
	if a.broken != 0 {
		w.WriteHeader(a.broken)
		return
	}
	if r.Method == http.MethodGet && r.URL.Path == "/am/api/v2/status" {
		return
	}
	if r.Method != http.MethodPost || r.URL.Path != "/am/api/v2/alerts" {
		w.WriteHeader(http.StatusNotFound)
		return
	}
	a.posts++
	var all []alert
	if err := json.NewDecoder(r.Body).Decode(&all); err != nil {
		w.WriteHeader(http.StatusBadRequest)
		return
	}
	for _, x := range all {
		if x.StartsAt.After(x.EndsAt) {
			w.WriteHeader(http.StatusBadRequest)
			_, _ = io.WriteString(w, `"start time must be before end time"`)
			return
		}
		a.alerts[x.Labels["alertname"]] = x
	}
}

// firing returns the alerts that stand by the server's clock.
func (a *amFake) firing() map[string]alert {
	a.mu.Lock()
	defer a.mu.Unlock()
	out := map[string]alert{}
	for k, x := range a.alerts {
		if x.EndsAt.After(a.now()) {
			out[k] = x
		}
	}
	return out
}

func (a *amFake) setBroken(code int) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.broken = code
}

func amTo(t *testing.T, dial Dial) *Alertmanager {
	t.Helper()
	a, err := NewAlertmanager(AlertmanagerOptions{
		HTTP: HTTP{URL: "http://alerts.example/am", Dial: dial}, Labels: map[string]string{"site": "yard"},
	})
	require.NoError(t, err)
	return a
}

// The wall clock of either side must not matter, only that an alarm stands
// there while it stands here.
func TestAlertStandsWhileItStandsByAnyClock(t *testing.T) {
	for _, ahead := range []time.Duration{0, 400 * time.Millisecond, time.Hour, -time.Hour, 30 * 24 * time.Hour, -30 * 24 * time.Hour} {
		t.Run(ahead.String(), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				am := &amFake{ahead: ahead, alerts: map[string]alert{}}
				net := serve(t, am.handle)
				src := newScript()
				n, stop := launch(t, src, options(Target{Name: "am", Sink: amTo(t, net.Dial)}))
				src.raise(inletAct, engine.Act)
				for range 60 {
					time.Sleep(time.Minute)
					require.Len(t, am.firing(), 1, "repeats keep it from resolving by itself")
				}
				x := am.firing()["inlet_low.act"]
				require.WithinDuration(t, am.now().Add(-time.Hour-2*time.Second), x.StartsAt, 2*time.Second)
				src.back(inletAct, engine.Act)
				time.Sleep(time.Second)
				require.Empty(t, am.firing(), "resolved at once")
				stop()
				s := n.Stats().Targets[0]
				require.Equal(t, [3]uint64{2, 0, 0}, [3]uint64{s.Sent, s.Refused, s.Failures})
			})
		})
	}
}

// A Date that is garbage must not cost the alarm: no time after the year 9999
// can be written in JSON.
func TestAlertIsSentWhateverTheServersDate(t *testing.T) {
	for _, date := range []string{"Fri, 31 Dec 9999 23:59:59 GMT", "Mon, 01 Jan 0001 00:00:01 GMT", "Thu, 01 Jan 1970 00:00:00 GMT", "yesterday"} {
		synctest.Test(t, func(t *testing.T) {
			am := &amFake{alerts: map[string]alert{}}
			net := serve(t, func(w http.ResponseWriter, r *http.Request) {
				am.handle(w, r)
				w.Header().Set("Date", date)
			})
			src := newScript()
			n, stop := launch(t, src, options(Target{Name: "am", Sink: amTo(t, net.Dial)}))
			src.raise(inletAct, engine.Act)
			time.Sleep(time.Minute)
			s := n.Stats().Targets[0]
			require.Zero(t, s.Refused, date)
			require.EqualValues(t, 1, s.Sent, date)
			stop()
		})
	}
}

func TestAlertSaysAll(t *testing.T) {
	n := sample()
	a := amTo(t, nil)
	a.setClock(time.Date(2026, time.March, 2, 12, 0, 0, 0, time.UTC))
	n.at = a.localAt
	n.onset = n.at.Add(-2 * time.Second)
	x := a.alert(&n)
	require.Equal(t, map[string]string{
		"alertname": "inlet_low.act", "job": "headroom", "machine": "Jetter 1", "severity": "act",
		"rule": "inlet_low", "stage": "act", "site": "yard",
	}, x.Labels)
	require.Equal(t, "http://jetter.local:8080/", x.GeneratorURL)
	require.Equal(t, "2026-03-02T11:59:58Z", x.StartsAt.Format(time.RFC3339))
	require.WithinDuration(t, a.serverAt.Add(DefaultHold), x.EndsAt, time.Second)
	for key, want := range map[string]string{
		"value": "4.9 psi (34 kPa)", "limit": "7.3 psi (50 kPa)", "value_si": "34000 Pa", "machine_state": "running",
		"first_out": "true", "onset_mono_s": "724", "mono_s": "726", "clock": "synced", "wall": "2026-03-02T12:00:02Z",
		"title": n.Words.Title, "consequence": n.Words.Consequence, "action": n.Words.Action, "looks_like": n.LooksLike,
	} {
		require.Equal(t, want, x.Annotations[key], key)
	}
	require.NotContains(t, x.Annotations, "sensor")
	n.Alarm = flowLost
	require.Equal(t, "flow", a.alert(&n).Labels["channel"])
}

// A gap in the network that is shorter than Hold must not look like an
// all-clear; a server that was down is caught up with.
func TestAlertOutlastsAnOutage(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		am := &amFake{alerts: map[string]alert{}}
		net := serve(t, am.handle)
		src := newScript()
		n, stop := launch(t, src, options(Target{Name: "am", Sink: amTo(t, net.Dial)}))
		defer stop()
		am.setBroken(http.StatusServiceUnavailable)
		src.raise(inletWarn, engine.Warning)
		time.Sleep(time.Minute)
		require.Empty(t, am.firing())
		am.setBroken(0)
		time.Sleep(2 * time.Minute)
		require.Len(t, am.firing(), 1)
		net.setCut(true)
		time.Sleep(DefaultHold - 2*time.Minute)
		require.Len(t, am.firing(), 1)
		time.Sleep(time.Hour)
		require.Empty(t, am.firing(), "but not for ever")
		net.setCut(false)
		time.Sleep(DefaultRetryMax)
		require.Len(t, am.firing(), 1)
		require.False(t, n.Stats().Targets[0].Failing)
	})
}

func TestRefusalRepeatsTheServersWords(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		net := serve(t, func(w http.ResponseWriter, r *http.Request) {
			if r.Method == http.MethodPost {
				w.WriteHeader(http.StatusBadRequest)
				_, _ = io.WriteString(w, "no such tenant\n")
			}
		})
		src := newScript()
		n, stop := launch(t, src, options(Target{Name: "am", Sink: amTo(t, net.Dial)}))
		src.raise(inletWarn, engine.Warning)
		time.Sleep(time.Second)
		stop()
		s := n.Stats().Targets[0]
		require.Equal(t, uint64(1), s.Refused)
		require.Equal(t, `the Alertmanager at http://alerts.example answered 400 Bad Request: "no such tenant"`, s.LastError)
	})
}
