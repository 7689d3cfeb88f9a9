package remote

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"net"
	"net/http"
	"sort"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/prometheus/client_golang/exp/api/remote"
	writev2 "github.com/prometheus/client_golang/exp/api/remote/genproto/v2"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	"headroom/daemon/config"
	"headroom/daemon/replay"
	"headroom/daemon/snapshot"
	"headroom/daemon/store"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
)

// All machines, numbers and faults here are invented.

var noon = time.Date(2026, time.March, 2, 12, 0, 0, 0, time.UTC)

// boot is one boot to record.
type boot struct {
	start   time.Time
	minutes int
	trust   store.Trust
	// gap is a pause in the middle without frames.
	gap time.Duration
	// tank lets it begin with an alarm that stood, of a rule that can't judge.
	tank bool
}

// fixtureStep is the distance of the test's frames.
const fixtureStep = time.Second

// invented is a machine at work: its inlet starves now and then, and its
// thermometer fails for a minute in ten.
func invented(t time.Duration, f *frame.Frame) {
	s := t.Seconds()
	f.Set(frame.InletPressure, 180e3+60e3*math.Sin(s/7))
	f.Set(frame.Flow, 0.00012+0.000006*math.Sin(s/3))
	f.Set(frame.MotorCurrent, 12+math.Sin(s/5))
	f.Set(frame.Running, 1)
	f.Samples[frame.TankLevel].Status = frame.Missing
	if int(s)%60 == 42 {
		f.Set(frame.MotorCurrent, 5000) // no sensor can give this
	}
	f.Set(frame.WaterTemp, 288.15+s/600)
	if int(s)/60%4 == 3 {
		f.Set(frame.InletPressure, 20e3+5e3*math.Sin(s))
	}
	if int(s)/60%10 == 5 {
		f.Samples[frame.WaterTemp] = frame.Sample{Value: 233.15, Status: frame.Failed}
	}
}

// recorder writes frames as the program does.
type recorder struct {
	*store.Store
	engine *engine.Engine
	state  engine.State
	t      time.Duration
	start  time.Time
}

func openRecorder(t testing.TB, dir string, start time.Time, tank bool) *recorder {
	t.Helper()
	r := &recorder{start: start}
	var kept []byte
	if tank {
		var k snapshot.Kept
		k[engine.WarnAlarm(engine.TankLow)] = engine.Kept{Active: true, Level: engine.Warning, Life: alarm.Kept{Base: alarm.Unacknowledged}}
		r.state.Restore(&k)
		var err error
		kept, err = snapshot.EncodeKept(&k)
		require.NoError(t, err)
	}
	s, err := store.Open(dir, store.Options{SealFrames: 700, Info: store.Info{
		Software: "test", Machine: "Jetter 1", ConfigHash: "c0", ConfigText: []byte("[simulator]\non = false\n"), StartWall: start, Kept: kept,
	}})
	require.NoError(t, err)
	r.Store = s
	return r
}

func (r *recorder) run(t testing.TB, d time.Duration) {
	t.Helper()
	for end := r.t + d; r.t < end; {
		if r.t += fixtureStep; r.t%(5*time.Minute) == 0 {
			require.NoError(t, r.Sync())
		}
		var f frame.Frame
		invented(r.t, &f)
		if r.engine == nil {
			e, err := engine.New(replay.FitTo(config.Default().Engine, replay.Fitted(&f)))
			require.NoError(t, err)
			r.engine = e
		}
		v := r.engine.Step(&r.state, &f, r.t)
		totals := r.state.Totals()
		r.NoteTotals(&totals)
		require.NoError(t, r.Append(r.t, r.start.Add(r.t), &f, v))
	}
	require.NoError(t, r.Sync())
}

// recorded makes a record of boots; the last one is still open.
func recorded(t testing.TB, dir string, boots ...boot) *recorder {
	t.Helper()
	for i, b := range boots {
		r := openRecorder(t, dir, b.start, b.tank)
		half := time.Duration(b.minutes) * time.Minute / 2
		r.run(t, half+17*time.Second)
		r.t += b.gap
		r.run(t, half)
		if b.trust > store.Seen {
			require.NoError(t, r.NoteClock(store.Observation{T: r.t, Wall: b.start.Add(r.t), Trust: b.trust}))
		}
		if i == len(boots)-1 {
			return r
		}
		require.NoError(t, r.Close())
	}
	return nil
}

// shelf is a store that keeps a message as a whole or not at all, takes each
// series only in its order, and takes what it has already as long as it is the
// same. Source: behaviour of Prometheus' head block, checked against the real
// one in TestRealPrometheus.
type shelf struct {
	mu     sync.Mutex
	series map[string]map[int64]float64
	last   map[string]int64
	twice  int
	asked  int
}

func newShelf() *shelf {
	return &shelf{series: map[string]map[int64]float64{}, last: map[string]int64{}}
}

var errOrder = errors.New("out of order sample")

// Store implements the receiving side of the protocol's library.
func (s *shelf) Store(req *http.Request, kind remote.WriteMessageType) (*remote.WriteResponse, error) {
	body, err := io.ReadAll(req.Body)
	if err != nil {
		return nil, err
	}
	var all []series
	if kind == remote.WriteV2MessageType {
		all, err = decodeV2(body)
	} else {
		all, err = decodeV1(body)
	}
	resp := remote.NewWriteResponse()
	if err == nil {
		err = s.take(all)
	}
	if err != nil {
		resp.SetStatusCode(http.StatusBadRequest)
		return resp, err
	}
	resp.Samples = count(all)
	return resp, nil
}

func decodeV2(body []byte) (all []series, err error) {
	var req writev2.Request
	if err := proto.Unmarshal(body, &req); err != nil {
		return nil, err
	}
	for _, ts := range req.Timeseries {
		var one series
		for i := 0; i < len(ts.LabelsRefs); i += 2 {
			one.labels = append(one.labels, label{req.Symbols[ts.LabelsRefs[i]], req.Symbols[ts.LabelsRefs[i+1]]})
		}
		for _, p := range ts.Samples {
			one.samples = append(one.samples, sample{p.Timestamp, p.Value})
		}
		all = append(all, one)
	}
	return all, nil
}

func (s *shelf) take(all []series) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.asked++
	for i := range all { // all or nothing
		last := s.last[key(&all[i])]
		for _, p := range all[i].samples {
			have, ok := s.series[key(&all[i])][p.ms]
			if p.ms < last || ok && have != p.value {
				return errOrder
			}
			last = p.ms
		}
	}
	for i := range all {
		k := key(&all[i])
		if s.series[k] == nil {
			s.series[k] = map[int64]float64{}
		}
		for _, p := range all[i].samples {
			if _, ok := s.series[k][p.ms]; ok {
				s.twice++
			}
			s.series[k][p.ms] = p.value
			s.last[k] = p.ms
		}
	}
	return nil
}

func (s *shelf) samples() (n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, one := range s.series {
		n += len(one)
	}
	return n
}

// of gives a series' samples by time.
func (s *shelf) of(name string, pairs ...string) (out []sample) {
	want := newBatch(nil)
	want.add(name, 1, 1, append([]string{"machine", "Jetter 1"}, pairs...)...)
	for ms, v := range s.series[key(&want.all[0])] {
		out = append(out, sample{ms, v})
	}
	sort.Slice(out, func(i, j int) bool { return out[i].ms < out[j].ms })
	return out
}

func key(s *series) string {
	var b strings.Builder
	for _, l := range s.labels {
		fmt.Fprintf(&b, "%s=%q,", l.name, l.value)
	}
	return b.String()
}

func handler(s *shelf) http.Handler {
	return remote.NewWriteHandler(s, remote.MessageTypes{remote.WriteV1MessageType, remote.WriteV2MessageType})
}

// pipes is a network inside the process, so that it can run in virtual time.
type pipes struct{ c chan net.Conn }

func (p *pipes) Accept() (net.Conn, error) {
	c, ok := <-p.c
	if !ok {
		return nil, net.ErrClosed
	}
	return c, nil
}
func (p *pipes) Close() error   { return nil }
func (p *pipes) Addr() net.Addr { return &net.TCPAddr{} }

func (p *pipes) dial(ctx context.Context, _, _ string) (net.Conn, error) {
	near, far := net.Pipe()
	select {
	case p.c <- far:
		return near, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// serve answers on a network inside the process until the test's context ends.
func serve(t testing.TB, h http.Handler) (dial func(context.Context, string, string) (net.Conn, error)) {
	p := &pipes{make(chan net.Conn)}
	srv := &http.Server{Handler: h, ErrorLog: slog.NewLogLogger(slog.DiscardHandler, 0)}
	go func() { _ = srv.Serve(p) }()
	t.Cleanup(func() {
		close(p.c)
		_ = srv.Close()
	})
	return p.dial
}

// options of a sender to the shelf.
func options(t testing.TB, r Record, dir string, h http.Handler) Options {
	return Options{
		URL: "http://store.invalid/api/v1/write", Machine: "Jetter 1", Record: func() Record { return r }, Folder: dir,
		Dial: serve(t, h), Log: slog.New(slog.DiscardHandler), CatchUp: 100_000,
	}
}
