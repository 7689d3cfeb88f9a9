package store

import (
	"bytes"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/record"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/sensors/csvfile"
)

var startWall = time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC)

// testInfo is an invented machine.
var testInfo = Info{
	Software: "0.0.0-test", ConfigHash: "9f86d081884c7d65", ConfigText: []byte("# invented\n"),
	Machine: "trailer 2, invented", StartWall: startWall,
}

var fitted = []frame.Channel{
	frame.InletPressure, frame.WaterTemp, frame.Flow, frame.MotorCurrent,
	frame.OutletPressure, frame.SupplyVoltage, frame.ShaftSpeed, frame.Running,
}

// jetter is an invented machine with rules that have delays, filters and
// trends, so that any lost bit or shifted nanosecond shows in the verdicts.
func jetter() engine.Config {
	cfg := engine.Config{
		MaxGap: 3 * time.Second, SensorOn: 300 * time.Millisecond, SensorOff: 500 * time.Millisecond,
		States: machine.Config{StartTime: 2 * time.Second, StopTime: 2 * time.Second, BypassAfter: time.Second},
		Machine: engine.Machine{
			DisplacementM3: 4.64e-6, RatedFlowM3s: 7.6e-3 / 60, RatedSpeedHz: 28.75, VolumetricEff: 0.95,
			RatedOutletPa: 9e6, CircuitA: 20, AssumedNPSHRM: 2.5, InletBoreM: 0.019,
			RunCurrentA: 4, FlowOnM3s: 1e-5, FedInletPa: 10e3,
		},
	}
	for _, c := range fitted {
		lo, hi := c.Believable()
		cfg.Signals[c] = engine.Signal{Fitted: true, Min: lo, Max: hi, SmoothS: 0.3}
	}
	limit := func(warn, act, span, deadband float64) engine.Limit {
		return engine.Limit{
			On: true, Warn: warn, Act: act, HasWarn: true, HasAct: true, WarnLevel: engine.Warning, ActLevel: engine.Act,
			Span: span, Deadband: deadband, WarnOn: 200 * time.Millisecond, ActOn: 200 * time.Millisecond, Off: time.Second,
		}
	}
	cfg.Rules[engine.InletLow] = limit(150e3, 20e3, 200e3, 5e3)
	cfg.Rules[engine.WaterHot] = limit(289, 333, 40, 0.1)
	cfg.Rules[engine.NPSHMargin] = limit(15, 0.5, 8, 0.3)
	cfg.Rules[engine.CircuitLoad] = limit(14, 20, 10, 0.3)
	return cfg
}

// tick is one step of the engine with its frame.
type tick struct {
	t    time.Duration
	wall time.Time
	raw  frame.Frame
	v    engine.Verdicts
	// totals of the engine after it.
	totals engine.Totals
}

// rig runs an engine over an invented job: the pump runs for a while, stands
// for a while, and now and then the inlet starves.
type rig struct {
	e   *engine.Engine
	s   engine.State
	rnd *rand.Rand
	n   int
	at  time.Duration
	// runFor and standFor are the job, in frames; starve is how often the
	// inlet pressure falls, in frames; 0 for never, and no sensor fails then.
	runFor, standFor, starve int
	// wall is the clock's time at 0.
	wall time.Time
}

func newRig(t require.TestingT) *rig {
	e, err := engine.New(jetter())
	require.NoError(t, err)
	return &rig{e: e, rnd: rand.New(rand.NewPCG(7, 8)), runFor: 400, standFor: 300, starve: 150, wall: startWall}
}

// step is a sensor's converter: a grid with an offset, as 4 to 20 mA make it.
func step(v, lo, hi float64) float64 {
	k := math.Round((v - lo) / (hi - lo) * 26214)
	return lo + float64(k*((hi-lo)/26214))
}

// statusesOfV1 is how many statuses there were when testdata/record-v1.tar.gz
// was written: by this rig, which must go on making the same frames.
const statusesOfV1 = int(frame.Service) + 1

func (r *rig) next() *tick {
	r.n++
	r.at += 100*time.Millisecond + time.Duration(r.rnd.IntN(2001)-1000)*time.Microsecond
	k := &tick{t: r.at, wall: r.wall.Add(r.at)}
	on := 0.0
	if r.n%(r.runFor+r.standFor) < r.runFor {
		on = 1
	}
	inlet, warm := 300e3, 285.0
	if r.starve > 0 {
		warm = 288 // and in the end too warm
	}
	if r.starve > 0 && r.n%r.starve > r.starve*2/3 {
		inlet = 100e3
	}
	// The conversion keeps the product from being fused with a sum, which would
	// make other frames on other processors.
	noise := func(sigma float64) float64 { return float64(sigma * r.rnd.NormFloat64()) }
	k.raw.Set(frame.InletPressure, step(inlet+noise(3e3), -100e3, 900e3))
	k.raw.Set(frame.WaterTemp, warm+math.Floor(float64(r.n%700)/16)/16)
	k.raw.Set(frame.Flow, on*1.2e-4*(1+noise(0.01)))
	k.raw.Set(frame.MotorCurrent, step(math.Abs(on*13+noise(0.1)), 0, 100))
	k.raw.Set(frame.OutletPressure, step(math.Abs(on*9e6+noise(1e4)), 0, 25e6))
	k.raw.Set(frame.SupplyVoltage, step(118+noise(0.3), 0, 300))
	k.raw.Set(frame.ShaftSpeed, on*28.7+math.Abs(math.Round(noise(10)))/1000)
	k.raw.Set(frame.Running, on)
	if r.starve > 0 && r.n%97 > 90 {
		k.raw.Samples[fitted[r.n/97%4]].Status = frame.Status(r.n % statusesOfV1)
	}
	k.v = *r.e.Step(&r.s, &k.raw, k.t)
	k.totals = r.s.Totals()
	return k
}

func (r *rig) take(n int) []*tick {
	out := make([]*tick, n)
	for i := range out {
		out[i] = r.next()
	}
	return out
}

// feed appends ticks as record.Queue's goroutine does: synced each second and
// at every transition.
func feed(t require.TestingT, s *Store, r *rig, ticks []*tick) {
	for i, k := range ticks {
		put(t, s, r, k)
		if i%10 == 9 || len(k.v.Transitions()) > 0 {
			require.NoError(t, s.Sync())
		}
	}
}

func put(t require.TestingT, s *Store, r *rig, k *tick) {
	if r != nil {
		s.NoteTotals(&k.totals)
	}
	err := s.Append(k.t, k.wall, &k.raw, &k.v)
	if errors.Is(err, record.ErrFull) {
		require.NoError(t, s.Sync())
		err = s.Append(k.t, k.wall, &k.raw, &k.v)
	}
	require.NoError(t, err)
}

// drop leaves a store as a power cut does: nothing is synced or sealed.
func drop(t require.TestingT, s *Store) {
	require.NoError(t, errors.Join(s.ring.Close(), s.db.Close(), s.w.Close()))
}

func open(t require.TestingT, dir string, o Options) *Store {
	if o.Info.Software == "" {
		o.Info = testInfo
	}
	if o.TailBytes == 0 {
		o.TailBytes = 256 << 10
	}
	s, err := Open(dir, o)
	require.NoError(t, err)
	return s
}

// requireFrames compares what the store gives with the ticks, bit for bit.
func requireFrames(t require.TestingT, v *view, boot uint64, ticks []*tick) {
	n := 0
	for got, err := range v.Frames(ctx, RunID{Boot: boot}, 0, 0) {
		require.NoError(t, err)
		require.Less(t, n, len(ticks), "more frames than were put in")
		requireTick(t, ticks[n], &got)
		n++
	}
	require.Equal(t, len(ticks), n)
}

func requireTick(t require.TestingT, want *tick, got *Tick) {
	if want.t == got.T && want.raw == got.Frame && got.Wall.Sub(want.wall).Abs() <= time.Millisecond {
		return
	}
	require.Equal(t, want.t, got.T)
	require.Equal(t, want.raw, got.Frame)
	require.WithinDuration(t, want.wall, got.Wall, time.Millisecond)
}

func transitions(ticks []*tick) (n int) {
	for _, k := range ticks {
		n += len(k.v.Transitions())
	}
	return n
}

// replay judges a recording anew.
func replay(t require.TestingT, in io.Reader) (verdicts []byte) {
	e, err := engine.New(jetter())
	require.NoError(t, err)
	r, err := csvfile.NewReader(in, "export", csvfile.Map{}, csvfile.Options{Strict: true})
	require.NoError(t, err)
	var s engine.State
	for {
		var f frame.Frame
		at, _, err := r.Next(&f)
		if errors.Is(err, io.EOF) {
			return verdicts
		}
		require.NoError(t, err)
		verdicts = e.Step(&s, &f, at).Append(verdicts)
	}
}

func export(t testing.TB, v *view, id RunID) []byte {
	var out bytes.Buffer
	rep, err := v.ExportCSV(ctx, &out, id, 0, 0)
	require.NoError(t, err)
	require.Empty(t, rep.Lost)
	return out.Bytes()
}
