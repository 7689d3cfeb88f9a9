package review

import (
	"context"
	"encoding/binary"
	"iter"
	"math"
	"math/rand/v2"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/daemon/config"
	"headroom/daemon/replay"
	"headroom/daemon/store"
	"headroom/daemon/store/seriestest"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// odd is a record in memory that may hold anything.
type odd struct {
	run    store.Run
	ticks  []store.Tick
	lost   []store.LostError
	events []store.Event
	acts   []store.Act
	clock  []store.Observation
	text   []byte
}

func (o *odd) Boots(context.Context) ([]store.Info, error) {
	return []store.Info{{Boot: 1, ConfigHash: "x"}}, nil
}
func (o *odd) ListRuns(context.Context, int) ([]store.Run, error) { return []store.Run{o.run}, nil }
func (o *odd) Run(_ context.Context, id store.RunID) (store.Run, error) {
	if id != o.run.ID {
		return store.Run{}, store.ErrNoRun
	}
	return o.run, nil
}
func (o *odd) Frames(_ context.Context, _ store.RunID, from, to time.Duration) iter.Seq2[store.Tick, error] {
	return func(yield func(store.Tick, error) bool) {
		for i := range o.lost {
			if !yield(store.Tick{}, &o.lost[i]) {
				return
			}
		}
		for _, k := range o.ticks {
			if k.T >= from && (to == 0 || k.T <= to) && !yield(k, nil) {
				return
			}
		}
	}
}
func (o *odd) Buckets(context.Context, store.RunID, frame.Channel, time.Duration, time.Duration, int) ([]store.Bucket, error) {
	return nil, nil
}
func (o *odd) Events(context.Context, store.RunID) ([]store.Event, error) { return o.events, nil }
func (o *odd) Acts(context.Context, store.RunID) ([]store.Act, error)     { return o.acts, nil }
func (o *odd) Config(context.Context, string) ([]byte, bool, error) {
	return o.text, o.text != nil, nil
}
func (o *odd) Observations(context.Context, uint64) ([]store.Observation, error) { return o.clock, nil }
func (o *odd) Deletions(context.Context) ([]store.Deletion, error)               { return nil, nil }
func (o *odd) WallAt(context.Context, uint64, time.Duration) (time.Time, bool, error) {
	return startWall, true, nil
}

// oddFrom makes a record of bytes: eight for each frame, alarm or act.
func oddFrom(data []byte) *odd {
	o := &odd{text: []byte("# invented\n")}
	at := time.Duration(0)
	for n := 0; len(data) >= 8 && n < 2000; n++ {
		word := binary.LittleEndian.Uint64(data)
		data = data[8:]
		at += time.Duration(word%50) * 37 * time.Millisecond
		ch := frame.Channel(word >> 8 % uint64(frame.NumChannels))
		id := engine.AlarmID(word >> 8 % uint64(engine.NumAlarms))
		value := math.Float64frombits(word &^ 0xffff)
		switch word >> 60 {
		case 0:
			o.events = append(o.events, store.Event{
				Boot: 1, T: at, Alarm: id.String(), Raised: word>>16&3 != 0, LevelN: uint8(word >> 18 & 3), Level: "warning",
				Onset: at - time.Duration(word>>20&1023)*time.Millisecond, First: word>>30&1 == 1, Value: &value, Limit: &value, Machine: "running",
			})
		case 1:
			o.acts = append(o.acts, store.Act{Boot: 1, N: len(o.acts) + 1, T: at, Who: "Kim", What: "acknowledge", Alarm: id.String()})
		case 2:
			o.lost = append(o.lost, store.LostError{Boot: 1, From: at, To: at + time.Duration(word&0xffff), Thinned: word>>20&1 == 1})
		case 3:
			o.clock = append(o.clock, store.Observation{Boot: 1, T: at, Wall: startWall.Add(time.Duration(word)), Trust: store.Trust(word >> 8 % 3)})
		default:
			o.ticks = append(o.ticks, oddTick(at, ch, value, frame.Status(word>>16%uint64(frame.NumStatuses))))
		}
	}
	o.run = store.Run{ID: RunID{Boot: 1, N: 1}, Start: at / 4, End: at * 3 / 4, Ended: "stopped"}
	return o
}

// oddTick is a machine at work with one channel that may be anything.
func oddTick(at time.Duration, ch frame.Channel, value float64, st frame.Status) store.Tick {
	k := store.Tick{T: at}
	k.Frame.Set(frame.InletPressure, 250e3)
	k.Frame.Set(frame.Flow, 1.2e-4)
	k.Frame.Set(frame.MotorCurrent, 13)
	k.Frame.Set(frame.WaterTemp, 288)
	k.Frame.Samples[ch] = frame.Sample{Value: value, Status: st}
	return k
}

// FuzzTell: whatever a record holds, the account is the same each time, says
// nothing that the record doesn't show and no number that is none.
func FuzzTell(f *testing.F) {
	f.Add([]byte{})
	f.Add([]byte("eight by"))
	long := make([]byte, 0, 4096)
	for i := range 512 {
		long = binary.LittleEndian.AppendUint64(long, uint64(i*i)*0x9e3779b97f4a7c15)
	}
	f.Add(long)
	f.Fuzz(func(t *testing.T, data []byte) { requireSound(t, oddFrom(data)) })
}

func requireSound(t require.TestingT, o *odd) {
	for _, id := range []RunID{o.run.ID, {Boot: 1}} {
		a, err := Tell(ctx, o, id, Options{})
		require.NoError(t, err)
		differs, err := Verify(ctx, o, a)
		require.NoError(t, err)
		for _, d := range differs {
			require.Contains(t, d, "its value is no number", "an alarm's own value may be anything")
		}
		again, err := Tell(ctx, o, id, Options{})
		require.NoError(t, err)
		require.Equal(t, len(a.Sentences), len(again.Sentences))
		for i := range a.Sentences {
			require.Equal(t, a.Sentences[i].Text(units.US), again.Sentences[i].Text(units.US))
			require.NotContains(t, a.Sentences[i].Text(units.SI), "NaN")
			require.NotContains(t, a.Sentences[i].Text(units.SI), "Inf")
			require.LessOrEqual(t, a.Sentences[i].From, a.Sentences[i].To)
		}
	}
}

// TestRunsOfOneFrame and of none.
func TestRunsOfOneFrame(t *testing.T) {
	requireSound(t, &odd{run: store.Run{ID: RunID{Boot: 1, N: 1}, Start: 5, End: 5}})
	one := &odd{run: store.Run{ID: RunID{Boot: 1, N: 1}, Start: time.Second, End: time.Second}, ticks: []store.Tick{oddTick(time.Second, frame.Flow, 1e-4, frame.Good)}}
	requireSound(t, one)
	a := latest(t, one)
	require.NotEmpty(t, a.Sentences)
}

// TestSpoiltRecords: frames of a real script with random holes and statuses.
func TestSpoiltRecords(t *testing.T) {
	var whole []store.Tick
	r := read(t, play(t, script{Scenario: "kinked_hose"}))
	for k, err := range r.Frames(ctx, RunID{Boot: 1}, 0, 0) {
		require.NoError(t, err)
		whole = append(whole, k)
	}
	events, err := r.Events(ctx, RunID{Boot: 1})
	require.NoError(t, err)
	run, err := r.Run(ctx, RunID{Boot: 1, N: 1})
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		rnd := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		every := rapid.IntRange(2, 400).Draw(t, "one frame in")
		o := &odd{run: run, events: events, text: []byte("# invented\n")}
		for i := 0; i < len(whole); i++ {
			k := whole[i]
			if rnd.IntN(every) == 0 {
				i += rnd.IntN(200)
			}
			if ch := rnd.IntN(40); ch < int(frame.NumChannels) && rnd.IntN(every) < 3 {
				k.Frame.Samples[ch] = frame.Sample{Value: math.NaN(), Status: frame.Status(rnd.IntN(int(frame.NumStatuses)))}
			}
			o.ticks = append(o.ticks, k)
		}
		requireSound(t, o)
	})
}

// tenHours records a long day of the demo over and over, judged by the engine, so
// that it is full of alarms, pauses and starts.
func tenHours(b testing.TB) *store.Reader {
	dir := b.TempDir()
	s, err := store.Open(dir, store.Options{Info: store.Info{ConfigHash: "x", ConfigText: []byte("# invented\n")}})
	require.NoError(b, err)
	var e *engine.Engine
	var st engine.State
	for i, f := range seriestest.Demo(b, 360_000) {
		if e == nil {
			e, err = engine.New(replay.FitTo(config.Default().Engine, replay.Fitted(&f)))
			require.NoError(b, err)
		}
		at := time.Duration(i+1) * tick
		v := e.Step(&st, &f, at)
		totals := st.Totals()
		s.NoteTotals(&totals)
		require.NoError(b, s.Append(at, startWall.Add(at), &f, v))
		if i%1000 == 999 {
			require.NoError(b, s.Sync())
		}
	}
	require.NoError(b, s.Close())
	return read(b, dir)
}

// BenchmarkTellTenHours is the account of a whole bad day, with the search around
// its alarms. cpu-s/op is what it costs where the machine has other work, too.
func BenchmarkTellTenHours(b *testing.B) {
	r := tenHours(b)
	id := RunID{Boot: 1}
	a, err := Tell(ctx, r, id, Options{})
	require.NoError(b, err)
	require.Greater(b, len(a.Summary.Alarms), maxEpisodes, "else the search is not measured")
	before := cpuTime(b)
	for b.Loop() {
		_, err := Tell(ctx, r, id, Options{})
		require.NoError(b, err)
	}
	b.ReportMetric((cpuTime(b)-before).Seconds()/float64(b.N), "cpu-s/op")
	b.ReportMetric(float64(len(a.Summary.Alarms)), "alarms")
	b.ReportMetric(float64(len(a.Sentences)), "sentences")
}

// cpuTime is what this process has used so far.
func cpuTime(b testing.TB) time.Duration {
	var u syscall.Rusage
	require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
