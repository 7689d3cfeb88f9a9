package app_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/app"
	"headroom/daemon/store"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/sensors"
)

// hot posts a fixed water temperature and a turning pump.
type hot struct{ kelvin float64 }

func (hot) Name() string { return "hot" }
func (hot) Channels() []frame.Channel {
	return []frame.Channel{frame.WaterTemp, frame.ShaftSpeed, frame.Flow}
}
func (h hot) Run(ctx context.Context, clock func() time.Duration, post func(sensors.Reading)) error {
	t := time.NewTicker(100 * time.Millisecond)
	defer t.Stop()
	for {
		for c, v := range map[frame.Channel]float64{frame.WaterTemp: h.kelvin, frame.ShaftSpeed: 28.75, frame.Flow: 1.2e-4} {
			post(sensors.Reading{Channel: c, Sample: frame.Sample{Value: v, Status: frame.Good}, At: clock()})
		}
		select {
		case <-ctx.Done():
			return nil
		case <-t.C:
		}
	}
}

// runFor runs the program over a folder for a time of the bubble and calls
// during halfway.
func runFor(t *testing.T, folder string, kelvin float64, d time.Duration, during func(a *app.App)) *app.App {
	opt := options(t, hot{kelvin})
	opt.Folder = folder
	a, err := app.New(opt)
	require.NoError(t, err)
	ctx, cancel := context.WithTimeout(t.Context(), d)
	defer cancel()
	go func() {
		time.Sleep(d / 2)
		if during != nil {
			during(a)
		}
	}()
	require.NoError(t, a.Run(ctx))
	require.NoError(t, a.Close())
	return a
}

// reader opens the record of a folder.
func reader(t *testing.T, folder string) *store.Reader {
	r, err := store.OpenReader(folder)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, r.Close()) })
	return r
}

func actsOf(t *testing.T, folder string, boot uint64) []store.Act {
	acts, err := reader(t, folder).Acts(t.Context(), store.RunID{Boot: boot})
	require.NoError(t, err)
	return acts
}

func TestActsReachTheEngineAndSurviveARestart(t *testing.T) {
	folder := t.TempDir()
	id := engine.ActAlarm(engine.WaterHot)
	synctest.Test(t, func(t *testing.T) {
		a := runFor(t, folder, 340, 20*time.Second, func(a *app.App) {
			_, err := a.Do(t.Context(), id, alarm.Reset, 0, "Ada")
			require.ErrorIs(t, err, app.ErrNotNow)
			did, err := a.Do(t.Context(), id, alarm.Acknowledge, 0, "Ada")
			require.NoError(t, err)
			require.Equal(t, alarm.Acknowledged, did.Phase)
			_, err = a.Do(t.Context(), engine.SensorAlarm(frame.InletPressure), alarm.Shelve, time.Hour, "Ada")
			require.NoError(t, err)
		})
		require.Equal(t, alarm.Acknowledged, a.Store().Latest().Verdicts.Alarms[id].Phase)
		require.Len(t, a.Store().Acts(0), 2)
		acts := actsOf(t, folder, 1)
		require.Len(t, acts, 2)
		require.Equal(t, "Ada", acts[0].Who)
		require.Equal(t, "acknowledge", acts[0].What)
		require.Equal(t, "water_hot.act", acts[0].Alarm)
		require.Equal(t, []string{"water_hot.warn"}, acts[0].With, "the milder stage stands under it, and the tap was for both")
		require.Equal(t, "shelve", acts[1].What)
		require.Equal(t, time.Hour, acts[1].For)
	})
	synctest.Test(t, func(t *testing.T) {
		a := runFor(t, folder, 340, time.Second, nil)
		v := a.Store().Latest().Verdicts
		require.Equal(t, alarm.Acknowledged, v.Alarms[id].Phase, "known before the restart, known after it")
		require.Equal(t, alarm.Unacknowledged, v.Alarms[engine.SensorAlarm(frame.InletPressure)].Phase, "a shelf ends at a restart: it asks again")
	})
	synctest.Test(t, func(t *testing.T) {
		require.NoError(t, os.WriteFile(filepath.Join(folder, "alarms.json"), []byte("["), 0o644))
		a := runFor(t, folder, 290, time.Second, nil)
		require.Equal(t, alarm.Normal, a.Store().Latest().Verdicts.Alarms[id].Phase, "a damaged file stops nothing")
	})
}
