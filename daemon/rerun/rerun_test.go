package rerun_test

import (
	"context"
	"errors"
	"iter"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/config"
	"headroom/daemon/replay"
	"headroom/daemon/rerun"
	"headroom/daemon/snapshot"
	"headroom/daemon/store"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
)

// fake is a record in memory: one boot, one run, hot water from its third
// second on.
type fake struct {
	info   store.Info
	acts   []store.Act
	config string
	lost   *store.LostError
	broken error
	none   bool
	start  time.Time
}

const step = 100 * time.Millisecond

func (f *fake) Boots(context.Context) ([]store.Info, error) { return []store.Info{f.info}, f.broken }
func (f *fake) Run(_ context.Context, id store.RunID) (store.Run, error) {
	if id.N != 1 {
		return store.Run{}, store.ErrNoRun
	}
	return store.Run{ID: id, Start: 2 * time.Second, End: 20 * time.Second}, nil
}
func (f *fake) Acts(context.Context, store.RunID) ([]store.Act, error) { return f.acts, nil }
func (f *fake) Config(context.Context, string) ([]byte, bool, error) {
	return []byte(f.config), f.config != "", nil
}
func (f *fake) WallAt(_ context.Context, _ uint64, t time.Duration) (time.Time, bool, error) {
	return f.start.Add(t), !f.start.IsZero(), nil
}
func (f *fake) Frames(_ context.Context, _ store.RunID, _, to time.Duration) iter.Seq2[store.Tick, error] {
	return func(yield func(store.Tick, error) bool) {
		for t := step; !f.none && t <= 30*time.Second && (to == 0 || t <= to); t += step {
			if f.lost != nil && t == f.lost.From {
				if !yield(store.Tick{}, f.lost) {
					return
				}
				t = f.lost.To
				continue
			}
			tick := store.Tick{T: t}
			tick.Frame.Set(frame.WaterTemp, 290)
			if t >= 3*time.Second {
				tick.Frame.Set(frame.WaterTemp, 345)
			}
			tick.Frame.Set(frame.ShaftSpeed, 28.75)
			tick.Frame.Set(frame.Flow, 1.2e-4)
			if !yield(tick, nil) {
				return
			}
		}
	}
}

var hotAct = engine.ActAlarm(engine.WaterHot)

func newFake() *fake {
	return &fake{info: store.Info{Boot: 7, Software: "test", ConfigHash: "abc"}, config: "# all by default\n"}
}

func run(t *testing.T, f *fake, id store.RunID, opt rerun.Options) (rerun.Result, error) {
	return rerun.Run(t.Context(), f, id, opt)
}

func TestRunsTheBootOrTheRunAgain(t *testing.T) {
	whole, err := run(t, newFake(), store.RunID{Boot: 7}, rerun.Options{})
	require.NoError(t, err)
	require.EqualValues(t, 300, whole.Totals.Frames)
	require.True(t, whole.Final.Alarms[hotAct].Active)
	require.Equal(t, engine.NotFitted, whole.Final.Rules[engine.InletLow].Judge, "the frames show what was fitted")
	part, err := run(t, newFake(), store.RunID{Boot: 7, N: 1}, rerun.Options{})
	require.NoError(t, err)
	require.EqualValues(t, 181, part.Totals.Frames)
	require.Equal(t, 2*time.Second, part.First)
	require.Equal(t, 20*time.Second, part.Last)
}

func TestRepeatsWhatPeopleDid(t *testing.T) {
	f := newFake()
	f.acts = []store.Act{
		{T: 15 * time.Second, What: "acknowledge", Alarm: hotAct.String(), Who: "Ada"},
		{T: 16 * time.Second, What: "the stop relay opened", Who: "outputs"},
		{T: 17 * time.Second, What: "checklist", Text: "oil: well"},
		{T: 18 * time.Second, What: "acknowledge", Alarm: "from_tomorrow.act"},
	}
	acts, err := rerun.Acts(t.Context(), f, 7)
	require.NoError(t, err)
	require.Equal(t, []replay.Act{{T: 15 * time.Second, Alarm: hotAct, Act: alarm.Acknowledge, Who: "Ada"}}, acts)
	res, err := run(t, f, store.RunID{Boot: 7}, rerun.Options{})
	require.NoError(t, err)
	require.Equal(t, alarm.Acknowledged, res.Final.Alarms[hotAct].Phase)
	res, err = run(t, f, store.RunID{Boot: 7}, rerun.Options{NoActs: true})
	require.NoError(t, err)
	require.Equal(t, alarm.Unacknowledged, res.Final.Alarms[hotAct].Phase)
}

// The clock said nothing then; what is known of it now dates the alarms.
func TestAlarmsAreDatedByWhatIsKnownNow(t *testing.T) {
	for _, start := range []time.Time{{}, time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC)} {
		f := newFake()
		f.start = start
		f.acts = []store.Act{{T: 15 * time.Second, What: "acknowledge", Alarm: hotAct.String()}}
		n := 0
		check := func(t0 time.Duration, wall time.Time) {
			n++
			if start.IsZero() {
				require.True(t, wall.IsZero())
				return
			}
			require.Equal(t, start.Add(t0), wall)
		}
		_, err := run(t, f, store.RunID{Boot: 7}, rerun.Options{Replay: replay.Options{
			OnTransition: func(tr engine.Transition, wall time.Time) { check(tr.T, wall) },
			OnAct:        func(a replay.Act, _ bool, wall time.Time) { check(a.T, wall) },
		}})
		require.NoError(t, err)
		require.Greater(t, n, 1)
	}
}

func TestBeginsAsTheBootBegan(t *testing.T) {
	var k snapshot.Kept
	k[hotAct] = engine.Kept{Life: alarm.Kept{Out: true}}
	text, err := snapshot.EncodeKept(&k)
	require.NoError(t, err)
	f := newFake()
	f.info.Kept = text
	res, err := run(t, f, store.RunID{Boot: 7}, rerun.Options{})
	require.NoError(t, err)
	require.Equal(t, alarm.OutOfService, res.Final.Alarms[hotAct].Phase)
	f.info.Kept = []byte("{")
	_, err = run(t, f, store.RunID{Boot: 7}, rerun.Options{})
	require.ErrorContains(t, err, "cannot begin boot 7 as it began")
}

func TestJudgesByAnotherConfigWhereAsked(t *testing.T) {
	cfg := config.Default()
	cfg.Engine.Rules[engine.WaterHot].HasAct = false
	f := newFake()
	f.config = ""
	_, err := run(t, f, store.RunID{Boot: 7}, rerun.Options{})
	require.ErrorIs(t, err, rerun.ErrNoConfig)
	res, err := run(t, f, store.RunID{Boot: 7}, rerun.Options{Config: cfg})
	require.NoError(t, err)
	require.False(t, res.Final.Alarms[hotAct].Active)
	f.config = "nonsense = ["
	_, err = run(t, f, store.RunID{Boot: 7}, rerun.Options{})
	require.ErrorContains(t, err, "this version can't read the config of boot 7")
}

func TestSaysWhatTheRecordLacks(t *testing.T) {
	f := newFake()
	_, err := run(t, f, store.RunID{Boot: 8}, rerun.Options{})
	require.ErrorContains(t, err, "no boot 8")
	_, err = run(t, f, store.RunID{Boot: 7, N: 2}, rerun.Options{})
	require.ErrorIs(t, err, store.ErrNoRun)

	f.lost = &store.LostError{Boot: 7, From: 5 * time.Second, To: 9 * time.Second, Thinned: true, Why: "thinned"}
	res, err := run(t, f, store.RunID{Boot: 7}, rerun.Options{})
	require.NoError(t, err)
	require.Equal(t, []store.LostError{*f.lost}, res.Lost)
	require.Less(t, res.Totals.Frames, uint64(300))
	require.NotZero(t, res.Totals.Frames)

	f.none, f.lost = true, nil
	_, err = run(t, f, store.RunID{Boot: 7}, rerun.Options{})
	require.ErrorContains(t, err, "the record has no frames of it")

	f.broken = errors.New("no disk")
	_, err = run(t, f, store.RunID{Boot: 7}, rerun.Options{})
	require.ErrorContains(t, err, "no disk")
}
