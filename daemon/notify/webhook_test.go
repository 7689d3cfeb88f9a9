package notify

import (
	"bytes"
	"encoding/json"
	"flag"
	"io"
	"log/slog"
	"math"
	"net/http"
	"os"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

var update = flag.Bool("update", false, "write the golden files anew")

func TestGoldenMessages(t *testing.T) {
	full, blank, sensor := sample(), sampleFeed().blank(inletAct), sampleFeed().blank(flowLost)
	sensor.State, sensor.Level, sensor.Sensor, sensor.Coalesced = Returned, engine.Warning, frame.Good, 3
	sensor.Limit = Amount{SI: math.NaN(), Known: true} // must not break the JSON
	for name, n := range map[string]Notification{"raised": full, "not_raised": blank, "sensor": sensor} {
		got, err := n.JSON()
		require.NoError(t, err)
		var pretty bytes.Buffer
		require.NoError(t, json.Indent(&pretty, append(got, '\n'), "", "  "))
		file := "testdata/" + name + ".json"
		if *update {
			require.NoError(t, os.WriteFile(file, pretty.Bytes(), 0o644))
		}
		want, err := os.ReadFile(file)
		require.NoError(t, err, "run the test with -update to make it")
		require.Equal(t, string(want), pretty.String())
	}
}

func TestSignature(t *testing.T) {
	for _, c := range []struct{ source, key, data, want string }{
		{"RFC 4231, 4.2", strings.Repeat("\x0b", 20), "Hi There", "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7"},
		{"RFC 4231, 4.3", "Jefe", "what do ya want for nothing?", "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"},
	} {
		require.Equal(t, "sha256="+c.want, Sign(Secret(c.key), []byte(c.data)), c.source)
	}
}

// inbox is a webhook's receiver that answers as a test says.
type inbox struct {
	mu     sync.Mutex
	answer func(w http.ResponseWriter, r *http.Request)
	bodies []message
	bad    int // with a wrong signature
	tries  []time.Time
}

func (b *inbox) handle(w http.ResponseWriter, r *http.Request) {
	body, _ := io.ReadAll(r.Body)
	b.mu.Lock()
	answer := b.answer
	b.tries = append(b.tries, time.Now())
	b.mu.Unlock()
	rec := &recorder{ResponseWriter: w, code: 200}
	if answer != nil {
		answer(rec, r)
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if r.Header.Get(SignatureHeader) != Sign("hunter2", body) || r.Header.Get("Content-Type") != "application/json" {
		b.bad++
	}
	var m message
	if json.Unmarshal(body, &m) == nil && rec.code == 200 && r.Context().Err() == nil {
		b.bodies = append(b.bodies, m)
	}
}

type recorder struct {
	http.ResponseWriter
	code int
}

// Unwrap lets http.ResponseController reach what is below.
func (r *recorder) Unwrap() http.ResponseWriter { return r.ResponseWriter }

func (r *recorder) WriteHeader(code int) {
	r.code = code
	r.ResponseWriter.WriteHeader(code)
}

func (b *inbox) behave(answer func(http.ResponseWriter, *http.Request)) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.answer = answer
}

func (b *inbox) ids() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	var all []string
	for _, m := range b.bodies {
		all = append(all, m.ID)
	}
	return all
}

func status(code int) func(http.ResponseWriter, *http.Request) {
	return func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(code) }
}

// webhookTo is a webhook with every secret there is, all of them "hunter2".
func webhookTo(t *testing.T, dial Dial) *Webhook {
	t.Helper()
	w, err := NewWebhook(WebhookOptions{Secret: "hunter2", HTTP: HTTP{URL: "http://receiver.example/hunter2?key=hunter2", Token: "hunter2", Dial: dial}})
	require.NoError(t, err)
	return w
}

func TestWebhookOutlivesEveryFault(t *testing.T) {
	faults := map[string]func(http.ResponseWriter, *http.Request){
		"fails":        status(http.StatusInternalServerError),
		"is not found": status(http.StatusNotFound),
		"redirects": func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, "http://elsewhere.example/hunter2", http.StatusFound)
		},
		"hangs":          func(_ http.ResponseWriter, r *http.Request) { <-r.Context().Done() },
		"drops the line": func(http.ResponseWriter, *http.Request) { panic(http.ErrAbortHandler) },
		"answers nonsense": func(w http.ResponseWriter, _ *http.Request) {
			w.(*recorder).code = 0
			c, _, _ := http.NewResponseController(w).Hijack()
			_, _ = c.Write([]byte("hunter2\r\n\r\n"))
			_ = c.Close()
		},
		"never ends its answer": func(w http.ResponseWriter, r *http.Request) {
			w.WriteHeader(299)
			_ = http.NewResponseController(w).Flush()
			<-r.Context().Done()
		},
	}
	for name, fault := range faults {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				box := &inbox{answer: fault}
				net := serve(t, box.handle)
				var log bytes.Buffer
				opt := options(Target{Name: "hook", Sink: webhookTo(t, net.Dial)})
				opt.Log = slog.New(slog.NewTextHandler(&log, nil))
				src := newScript()
				n, stop := launch(t, src, opt)
				src.raise(inletAct, engine.Act)
				time.Sleep(10 * time.Minute)
				s := n.Stats().Targets[0]
				require.Empty(t, box.ids())
				require.True(t, s.Failing)
				require.Positive(t, s.Failures)
				require.WithinDuration(t, time.Now().Add(-10*time.Minute), s.FailingSince, DefaultTimeout)
				box.behave(nil)
				time.Sleep(DefaultRetryMax)
				require.Equal(t, []string{"7-1-inlet_low.act"}, box.ids())
				stop()
				require.Zero(t, box.bad, "each attempt is signed")
				require.NotContains(t, s.LastError+log.String(), "hunter2")
				require.Contains(t, s.LastError, "http://receiver.example", s.LastError)
				require.Equal(t, 1, strings.Count(log.String(), "don't get through"), "one line for each change of state")
				require.Equal(t, 1, strings.Count(log.String(), "get through again"))
			})
		})
	}
}

func TestWebhookThatIsSlowIsNoFault(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &inbox{answer: func(http.ResponseWriter, *http.Request) { time.Sleep(DefaultTimeout - time.Second) }}
		net := serve(t, box.handle)
		src := newScript()
		n, stop := launch(t, src, options(Target{Name: "hook", Sink: webhookTo(t, net.Dial)}))
		src.raise(inletWarn, engine.Warning)
		src.raise(inletAct, engine.Act)
		time.Sleep(time.Minute)
		stop()
		require.Len(t, box.ids(), 2)
		require.Zero(t, n.Stats().Targets[0].Failures)
	})
}

// A server that answers only every third time, and a network that comes and
// goes, lose nothing.
func TestWebhookThroughAFlappingServer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box, count := &inbox{}, 0
		box.behave(func(w http.ResponseWriter, _ *http.Request) {
			if count++; count%3 != 0 {
				w.WriteHeader(http.StatusBadGateway)
			}
		})
		net := serve(t, box.handle)
		src := newScript()
		n, stop := launch(t, src, options(Target{Name: "hook", Sink: webhookTo(t, net.Dial)}))
		for i := range 20 {
			net.setCut(i%4 == 3)
			src.change(inletWarn, engine.Warning, i%2 == 0)
			time.Sleep(time.Minute)
		}
		net.setCut(false)
		time.Sleep(time.Hour)
		stop()
		s := n.Stats().Targets[0]
		require.Equal(t, uint64(20), s.Sent+s.Coalesced)
		ids := box.ids()
		require.Equal(t, "7-20-inlet_low.warn", ids[len(ids)-1], "the last word is the newest state")
		require.Equal(t, "returned", box.bodies[len(ids)-1].State)
	})
}

func TestWebhookRefusalIsGivenUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &inbox{answer: status(http.StatusUnprocessableEntity)}
		net := serve(t, box.handle)
		src := newScript()
		n, stop := launch(t, src, options(Target{Name: "hook", Sink: webhookTo(t, net.Dial)}))
		src.raise(inletAct, engine.Act)
		time.Sleep(time.Hour)
		stop()
		s := n.Stats().Targets[0]
		require.Equal(t, uint64(1), s.Refused)
		require.Len(t, box.tries, 1)
		require.Equal(t, "the webhook at http://receiver.example answered 422 Unprocessable Entity", s.LastError)
	})
}

func TestRetryAfterIsObeyed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &inbox{}
		box.behave(func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Retry-After", "120")
			w.WriteHeader(http.StatusTooManyRequests)
		})
		net := serve(t, box.handle)
		src := newScript()
		_, stop := launch(t, src, options(Target{Name: "hook", Sink: webhookTo(t, net.Dial)}))
		src.raise(inletAct, engine.Act)
		time.Sleep(time.Minute)
		src.raise(inletWarn, engine.Warning) // news is no reason to come early
		time.Sleep(2 * time.Minute)
		stop()
		require.Len(t, box.tries, 2)
		require.Equal(t, 2*time.Minute, box.tries[1].Sub(box.tries[0]))
	})
}

func TestRetryAfterHeader(t *testing.T) {
	const now = "Mon, 02 Mar 2026 12:00:00 GMT"
	for _, c := range []struct {
		value, date string
		want        time.Duration
	}{
		{"30", "", 30 * time.Second},
		{"Mon, 02 Mar 2026 12:01:00 GMT", now, time.Minute},
		{"Mon, 02 Mar 2026 11:00:00 GMT", now, 0},
		{"Mon, 02 Mar 2026 12:01:00 GMT", "", 0}, // without the server's clock it says nothing
		{"-5", now, 0},
		{"soon", now, 0},
		{"", now, 0},
	} {
		require.Equal(t, c.want, retryAfter(c.value, c.date), c.value)
	}
}
