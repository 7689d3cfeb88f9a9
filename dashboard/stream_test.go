package dashboard

import (
	"bufio"
	"context"
	"encoding/json"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/snapshot"
	"headroom/rules/engine"
)

// message is one server-sent event.
type message struct{ id, event, data string }

// pipe is a recorder that can be read while it is written to.
type pipe struct {
	http.ResponseWriter
	w *io.PipeWriter
}

func (p *pipe) Write(b []byte) (int, error) { return p.w.Write(b) }
func (p *pipe) Flush()                      {}

// listen opens a stream and returns a function that reads its next message.
func listen(t *testing.T, h http.Handler, target, lastID string) (next func() message, leave func()) {
	t.Helper()
	r := httptest.NewRequest(http.MethodGet, "http://localhost"+target, nil)
	if lastID != "" {
		r.Header.Set("Last-Event-ID", lastID)
	}
	ctx, cancel := context.WithCancel(context.Background())
	pr, pw := io.Pipe()
	done := make(chan struct{})
	go func() {
		defer close(done)
		h.ServeHTTP(&pipe{httptest.NewRecorder(), pw}, r.WithContext(ctx))
		pw.Close()
	}()
	sc := bufio.NewScanner(pr)
	sc.Buffer(nil, 1<<20)
	next = func() message {
		var m message
		for sc.Scan() {
			k, v, _ := strings.Cut(sc.Text(), ": ")
			switch k {
			case "id":
				m.id = v
			case "event":
				m.event = v
			case "data":
				m.data = v
			case "":
				return m
			}
		}
		return m
	}
	return next, func() { cancel(); pr.Close(); <-done }
}

func TestStreamTicksWithWhatChanged(t *testing.T) {
	for query, whole := range map[string]bool{"": false, "&whole=1": true} {
		t.Run(query, func(t *testing.T) { ticksWithWhatChanged(t, query, whole) })
	}
}

func ticksWithWhatChanged(t *testing.T, query string, whole bool) {
	synctest.Test(t, func(t *testing.T) {
		sc := steady()
		feed := sc.feed()
		next, leave := listen(t, newServer(testOptions(), feed).handler(), "/api/v1/stream?view=page"+query, "")
		defer leave()
		var first, second struct {
			Seq     uint64
			Regions map[string]string
			Changes map[string][]change
			Nodes   map[string]int
		}
		m := next()
		require.Equal(t, "tick", m.event)
		require.NoError(t, json.Unmarshal([]byte(m.data), &first))
		for _, name := range regions() {
			require.Contains(t, first.Regions, name, "the first tick holds the whole state")
		}
		p := sc.snap
		p.Seq++
		p.Verdicts.Samples[0].Value = 233e3
		feed.Publish(&p)
		m = next()
		require.Equal(t, "tick", m.event)
		require.NoError(t, json.Unmarshal([]byte(m.data), &second))
		require.Equal(t, p.Seq, second.Seq)
		require.Len(t, second.Nodes, 1, "only what changed is sent")
		require.Equal(t, first.Nodes["channels"], second.Nodes["channels"])
		if whole {
			require.Contains(t, second.Regions["channels"], "233")
			require.Empty(t, second.Changes)
			return
		}
		require.Empty(t, second.Regions, "one text is other")
		require.Len(t, second.Changes["channels"], 1)
		require.Equal(t, "233", strings.Fields(*second.Changes["channels"][0].Text)[0])
	})
}

func TestStreamPace(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sc := steady()
		feed := sc.feed()
		next, leave := listen(t, newServer(testOptions(), feed).handler(), "/api/v1/stream", "")
		defer leave()
		next()
		stop := make(chan struct{})
		go func() {
			for p := sc.snap; ; {
				select {
				case <-stop:
					return
				case <-time.After(100 * time.Millisecond):
					p.Seq++
					q := p
					feed.Publish(&q)
				}
			}
		}()
		defer close(stop)
		start, ticks, beats := time.Now(), 0, 0
		for time.Since(start) < 10*time.Second {
			switch next().event {
			case "tick":
				ticks++
			case "beat":
				beats++
			}
		}
		require.GreaterOrEqual(t, ticks, 20, "at least 2 a second")
		require.LessOrEqual(t, ticks, 50, "at most 5 a second")
		require.GreaterOrEqual(t, beats, 9)
	})
}

func TestStreamBeatsWhenTheMachineIsSilent(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		next, leave := listen(t, newServer(testOptions(), snapshot.NewStore()).handler(), "/api/v1/stream", "")
		defer leave()
		start := time.Now()
		for range 4 {
			require.Equal(t, "beat", next().event)
		}
		require.Equal(t, 3*time.Second, time.Since(start))
	})
}

func TestStreamResumesWithTheAlarmsInBetween(t *testing.T) {
	cases := []struct {
		name, lastID, query string
		want                []string
	}{
		{"a new reader gets none", "", "", nil},
		{"by header", testStart + "-7000-1", "", []string{"flow_short.warn", "inlet_low.act"}},
		{"by address, for a browser that opened anew", "", "&after=" + testStart + "-7000-2", []string{"inlet_low.act"}},
		{"all seen", testStart + "-7240-3", "", nil},
		{"from before a restart", "EARLIER-90000-55", "", []string{"inlet_low.warn", "flow_short.warn", "inlet_low.act"}},
		{"from before a restart, with fewer alarms than there are now", "EARLIER-90000-2", "", []string{"inlet_low.warn", "flow_short.warn", "inlet_low.act"}},
		{"an id that is none", "nonsense", "", nil},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				next, leave := listen(t, newServer(testOptions(), starving().feed()).handler(), "/api/v1/stream?view=page"+c.query, c.lastID)
				defer leave()
				for i, want := range c.want {
					m := next()
					require.Equal(t, "alarm", m.event)
					var got struct{ Alarm string }
					require.NoError(t, json.Unmarshal([]byte(m.data), &got))
					require.Equal(t, want, got.Alarm, i)
				}
				m := next()
				require.Equal(t, "tick", m.event)
				require.Equal(t, testStart+"-7240-3", m.id)
			})
		})
	}
}

// Numbers count anew from each start: a reader who keeps one from before gets
// everything of this start, by the start's name or where the number is too high.
func TestReadersFromBeforeARestartBeginAnew(t *testing.T) {
	h := newServer(testOptions(), phases().feed()).handler()
	ids := func(path, list string) (out []uint64) {
		var got struct {
			Start        string
			Events, Acts []struct{ ID uint64 }
		}
		require.NoError(t, json.Unmarshal([]byte(text(t, get(t, h, path))), &got))
		require.Equal(t, testStart, got.Start)
		for _, e := range map[string][]struct{ ID uint64 }{"events": got.Events, "acts": got.Acts}[list] {
			out = append(out, e.ID)
		}
		return out
	}
	for list, all := range map[string][]uint64{"events": ids("/api/v1/events", "events"), "acts": ids("/api/v1/acts", "acts")} {
		require.Greater(t, len(all), 1, list)
		last := strconv.FormatUint(all[len(all)-1], 10)
		for query, want := range map[string][]uint64{
			"?after=1":                               all[1:],
			"?after=1&start=" + testStart:            all[1:],
			"?after=1&start=EARLIER":                 all,
			"?after=" + last:                         nil,
			"?after=" + last + "&start=" + testStart: nil,
			"?after=" + last + "&start=EARLIER":      all,
			"?after=" + last + "0":                   all,
			"?start=" + testStart:                    all,
		} {
			require.Equal(t, want, ids("/api/v1/"+list+query, list), list+query)
		}
	}
	require.Contains(t, text(t, get(t, h, "/api/v1/status")), `"start":"`+testStart+`"`)
	require.NotEqual(t, snapshot.NewStore().Start(), snapshot.NewStore().Start())
}

// TestSlowReaderIsDropped talks over a connection without any buffer to a
// reader that never reads.
func TestSlowReaderIsDropped(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ln := &oneConn{conns: make(chan net.Conn, 1), done: make(chan struct{})}
		client, server := net.Pipe()
		ln.conns <- server
		s := newServer(testOptions(), steady().feed())
		ended := make(chan time.Duration, 1)
		srv := &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			start := time.Now()
			s.handler().ServeHTTP(w, r)
			ended <- time.Since(start)
		})}
		go func() { _ = srv.Serve(ln) }()
		_, err := io.WriteString(client, "GET /api/v1/stream?view=page HTTP/1.1\r\nHost: localhost\r\n\r\n")
		require.NoError(t, err)
		took := <-ended
		require.Equal(t, writeWithin, took, "the reader got more time than it should")
		require.Empty(t, s.streams, "its place is free again")
		require.NoError(t, srv.Close())
		client.Close()
		synctest.Wait()
	})
}

// TestStreamOutlivesTheServersReadTimeout: that limit is meant for requests.
func TestStreamOutlivesTheServersReadTimeout(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ln := &oneConn{conns: make(chan net.Conn, 1), done: make(chan struct{})}
		client, server := net.Pipe()
		ln.conns <- server
		srv := &http.Server{Handler: newServer(testOptions(), steady().feed()).handler(), ReadTimeout: 5 * time.Second, WriteTimeout: 5 * time.Second}
		go func() { _ = srv.Serve(ln) }()
		_, err := io.WriteString(client, "GET /api/v1/stream HTTP/1.1\r\nHost: localhost\r\n\r\n")
		require.NoError(t, err)
		start, sc := time.Now(), bufio.NewScanner(client)
		sc.Buffer(nil, 1<<20)
		for time.Since(start) < 30*time.Second && sc.Scan() {
		}
		require.GreaterOrEqual(t, time.Since(start), 30*time.Second, "the stream was cut")
		client.Close()
		require.NoError(t, srv.Close())
		synctest.Wait()
	})
}

// oneConn is a listener that gives one connection.
type oneConn struct {
	conns chan net.Conn
	done  chan struct{}
}

func (l *oneConn) Accept() (net.Conn, error) {
	select {
	case c := <-l.conns:
		return c, nil
	case <-l.done:
		return nil, net.ErrClosed
	}
}

func (l *oneConn) Close() error   { close(l.done); return nil }
func (l *oneConn) Addr() net.Addr { return &net.TCPAddr{} }

func TestTooManyStreams(t *testing.T) {
	s := newServer(testOptions(), steady().feed())
	for range maxStreams {
		s.streams <- struct{}{}
	}
	resp := get(t, s.handler(), "/api/v1/stream")
	require.Equal(t, http.StatusServiceUnavailable, resp.StatusCode)
	require.NotEmpty(t, resp.Header.Get("Retry-After"))
}

// A script that opens one after the other must leave some to the phones.
func TestOneAddressDoesNotTakeAllStreams(t *testing.T) {
	s := newServer(testOptions(), steady().feed())
	srv := httptest.NewServer(s.handler())
	defer srv.Close()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	open := func() int {
		r, err := http.NewRequestWithContext(ctx, http.MethodGet, srv.URL+"/api/v1/stream", nil)
		require.NoError(t, err)
		resp, err := http.DefaultTransport.RoundTrip(r)
		require.NoError(t, err)
		t.Cleanup(func() { _ = resp.Body.Close() })
		return resp.StatusCode
	}
	for i := range maxStreams {
		want := http.StatusOK
		if i >= maxStreams/2 {
			want = http.StatusServiceUnavailable
		}
		require.Equal(t, want, open(), i)
	}
	require.Len(t, s.streams, maxStreams/2)
	cancel()
	require.Eventually(t, func() bool {
		s.held.mu.Lock()
		defer s.held.mu.Unlock()
		return len(s.streams) == 0 && len(s.held.of) == 0
	}, 10*time.Second, 10*time.Millisecond)
}

func FuzzParsePosition(f *testing.F) {
	for _, s := range []string{"", "1-2", "-", "S-18446744073709551615-0", "1-2-3", "a-b", "-1-2", "S-1-2-3"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p, ok := parsePosition(s)
		if !ok {
			require.Zero(t, p)
			return
		}
		q, ok := parsePosition(p.String())
		require.True(t, ok)
		require.Equal(t, p, q)
	})
}

// TestEveryRuleAndAlarmCanBeShown renders each verdict and alarm once, so that
// a new one can't break the page.
func TestEveryRuleAndAlarmCanBeShown(t *testing.T) {
	for j := engine.NotFitted; j <= engine.Watching; j++ {
		sc := steady()
		for r := range engine.NumRules {
			sc.cannot(r, j, 0)
		}
		for a := range engine.NumAlarms {
			sc.alarm(engine.AlarmID(a), engine.Level(1+a%3), time.Second, a == 0)
		}
		h := newServer(testOptions(), sc.feed()).handler()
		require.Equal(t, 200, get(t, h, "/").StatusCode)
		require.Equal(t, 200, get(t, h, "/limits").StatusCode)
		body := text(t, get(t, h, "/api/v1/status"))
		require.True(t, json.Valid([]byte(body)))
	}
}
