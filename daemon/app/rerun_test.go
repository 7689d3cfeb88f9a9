package app_test

import (
	"context"
	"errors"
	"math/rand/v2"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/app"
	"headroom/daemon/replay"
	"headroom/daemon/rerun"
	"headroom/daemon/store"
	"headroom/rules/alarm"
	"headroom/rules/engine"
)

// witness are outputs that keep what every tick was told, to the last bit.
type witness struct{ ticks []string }

func (w *witness) Tick(v *engine.Verdicts, _ time.Duration) {
	w.ticks = append(w.ticks, string(v.Append(nil)))
}
func (w *witness) Run(ctx context.Context) { <-ctx.Done() }

// people do one thing after another to whichever alarms there are, and tell
// how much of it meant something.
func people(t *testing.T, a *app.App, rnd *rand.Rand, until time.Time) (done int) {
	for {
		time.Sleep(time.Duration(rnd.Int64N(int64(9 * time.Second))))
		if time.Now().After(until) {
			return done
		}
		s := a.Store().Latest()
		if s == nil {
			continue
		}
		id := engine.AlarmID(rnd.IntN(engine.NumAlarms))
		for i := range s.Verdicts.Alarms { // mostly one that isn't normal
			if s.Verdicts.Alarms[i].Phase != alarm.Normal && rnd.IntN(2) == 0 {
				id = engine.AlarmID(i)
			}
		}
		shelf := time.Duration(0)
		act := alarm.Act(rnd.IntN(int(alarm.NumActs)))
		if act == alarm.Shelve {
			shelf = time.Duration(rnd.Int64N(int64(time.Minute)))
		}
		switch _, err := a.Do(t.Context(), id, act, shelf, "Ada"); {
		case err == nil:
			done++
		case !errors.Is(err, app.ErrNotNow):
			t.Errorf("%s %s: %v", act, id, err)
		}
	}
}

// A boot of the record, with what people did and the alarms that it began
// with, gives the verdicts of then to the last bit, tick by tick; and so does
// a boot that began with alarms standing. Without the acts it doesn't: the
// comparison can fail.
func TestBootsOfTheRecordGiveTheVerdictsOfThen(t *testing.T) {
	folder := t.TempDir()
	rnd := rand.New(rand.NewPCG(3, 5))
	var live [2]witness
	var done [2]int
	for boot := range live {
		synctest.Test(t, func(t *testing.T) {
			opt := options(t, demoDriver(t))
			opt.Folder, opt.Outputs = folder, &live[boot]
			a, err := app.New(opt)
			require.NoError(t, err)
			ctx, cancel := context.WithTimeout(t.Context(), 4*time.Minute)
			defer cancel()
			until := time.Now().Add(4*time.Minute - 10*time.Second)
			ended := make(chan struct{})
			go func() {
				defer close(ended)
				done[boot] = people(t, a, rnd, until)
			}()
			require.NoError(t, a.Run(ctx))
			<-ended
			require.NoError(t, a.Close())
		})
		require.Greater(t, done[boot], 10, "people did something that meant something")
	}
	r := reader(t, folder)
	for boot := range live {
		id := store.RunID{Boot: uint64(boot) + 1}
		got, res := again(t, r, id, false)
		require.Empty(t, res.Lost)
		require.Equal(t, len(live[boot].ticks), len(got))
		for i := range got {
			require.Equal(t, live[boot].ticks[i], got[i], "boot %d, tick %d", id.Boot, i)
		}
		acts, err := rerun.Acts(t.Context(), r, id.Boot)
		require.NoError(t, err)
		require.Len(t, acts, done[boot])
		without, _ := again(t, r, id, true)
		require.NotEqual(t, live[boot].ticks, without)
	}
	boots, err := r.Boots(t.Context())
	require.NoError(t, err)
	require.NotEmpty(t, boots[1].Kept, "the second boot begins with alarms")

	run := store.RunID{Boot: 2, N: 1}
	about, err := r.Run(t.Context(), run)
	require.NoError(t, err)
	got, res := again(t, r, run, false)
	require.Equal(t, about.Start, res.First)
	require.Equal(t, about.End, res.Last)
	require.Subset(t, live[1].ticks, got[:1], "a run is judged as it was in its boot")
	require.Equal(t, len(got), int(res.Totals.Frames))
	require.InDelta(t, about.Summary.Sums.WaterM3, res.Totals.WaterM3, 1e-4)
}

// again runs a part of the record once more and returns each tick's verdicts.
func again(t *testing.T, r *store.Reader, id store.RunID, noActs bool) (ticks []string, res rerun.Result) {
	res, err := rerun.Run(t.Context(), r, id, rerun.Options{NoActs: noActs, Replay: replay.Options{
		OnVerdicts: func(v *engine.Verdicts, _ time.Time) { ticks = append(ticks, string(v.Append(nil))) },
	}})
	require.NoError(t, err)
	return ticks, res
}
