package app_test

import (
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"headroom/daemon/app"
	"headroom/dashboard"
	"headroom/rules/frame"
	"headroom/sensors/calibrate"
)

var _ dashboard.Calibrator = (*app.Calibrator)(nil)

// checks is a driver's side of calibrations.
type checks struct {
	mu       sync.Mutex
	tap      func(calibrate.Sample)
	reloaded int
	at       time.Duration
}

func (c *checks) Check(_ frame.Channel, tap func(calibrate.Sample)) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	if tap != nil && c.tap != nil {
		return false
	}
	c.tap = tap
	return true
}

func (c *checks) Reload(frame.Channel) { c.reloaded++ }

// checking is whom the raw readings go to; nil for nobody.
func (c *checks) checking() func(calibrate.Sample) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.tap
}

func (c *checks) steady(value float64) {
	for i := range calibrate.WindowSize {
		c.at += 100 * time.Millisecond
		c.checking()(calibrate.Sample{At: c.at, Sample: frame.Sample{Value: value + []float64{50, -50, -50, 50}[i%4], Status: frame.Good}})
	}
}

const ch = frame.InletPressure

func calibrator(t *testing.T) (*app.Calibrator, *checks, *calibrate.Store) {
	store, err := calibrate.NewStore(t.TempDir())
	require.NoError(t, err)
	k := &checks{}
	wall := func() time.Time { return time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC) }
	return app.NewCalibrator(k, store, []frame.Channel{ch, frame.Trigger}, "", wall), k, store
}

func mark(t *testing.T, c *app.Calibrator) string {
	v, ok := c.View(ch)
	require.True(t, ok)
	return v.Mark
}

func zero(t *testing.T, c *app.Calibrator, k *checks, raw float64, who string) {
	require.NoError(t, c.Begin(ch, who))
	require.NotNil(t, k.checking(), "the channel counts as being checked")
	require.NoError(t, c.Next(ch, mark(t, c), calibrate.Choose{Method: calibrate.Zero}))
	k.steady(raw)
	require.NoError(t, c.Next(ch, mark(t, c), calibrate.Take{Reference: 0}))
	sign := calibrate.Confirm{Who: who, Date: time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC), ValidDays: 30}
	require.NoError(t, c.Next(ch, mark(t, c), sign))
	require.Nil(t, k.checking(), "and is watched again at once")
}

func TestCalibrationIsStoredAndPutToWork(t *testing.T) {
	c, k, store := calibrator(t)
	zero(t, c, k, 700, "Ada")
	require.Equal(t, 1, k.reloaded)
	latest, err := store.Latest(ch)
	require.NoError(t, err)
	require.Equal(t, "Ada", latest.Who)
	require.InDelta(t, 700, latest.Points[0].Raw, 1)
	v, ok := c.View(ch)
	require.True(t, ok)
	require.False(t, v.Active)
	require.ErrorContains(t, c.Next(ch, v.Mark, calibrate.Back{}), "no calibration is under way")
}

// newest is the mark of what a page shows as the newest calibration.
func newest(t *testing.T, c *app.Calibrator) string {
	all, err := c.History(ch)
	require.NoError(t, err)
	return calibrate.Mark(all)
}

// Two people see the same bad calibration and both undo it: the second undo
// would put it back in force.
func TestUndoTwiceFromOneSightUndoesOnce(t *testing.T) {
	c, k, store := calibrator(t)
	zero(t, c, k, 300, "Good")
	zero(t, c, k, 900, "Bad")
	seen := newest(t, c)
	var done atomic.Int32
	var both sync.WaitGroup
	for range 2 {
		both.Go(func() {
			if back, err := c.Undo(ch, seen, "Bo"); err == nil {
				done.Add(1)
				assert.Equal(t, "Good", back.Who)
			} else {
				assert.ErrorContains(t, err, "nothing was undone")
			}
		})
	}
	both.Wait()
	require.EqualValues(t, 1, done.Load())
	latest, err := store.Latest(ch)
	require.NoError(t, err)
	require.Equal(t, "Good", latest.Who)
	back, err := c.Undo(ch, newest(t, c), "Bo")
	require.NoError(t, err, "who sees what is in use may undo the undo")
	require.Equal(t, "Bad", back.Who)
}

func TestUndoGoesBackAndLosesNothing(t *testing.T) {
	c, k, store := calibrator(t)
	_, err := c.Undo(ch, newest(t, c), "Bo")
	require.ErrorContains(t, err, "no calibration to undo")
	zero(t, c, k, 700, "Ada")
	back, err := c.Undo(ch, newest(t, c), "Bo")
	require.NoError(t, err)
	require.Equal(t, calibrate.None, back.Method, "there was none before")
	require.True(t, back.Undone, "nobody compared the sensor with anything")
	require.Contains(t, back.Note, "put back on 2026-03-02 by Bo, in place of the one of 2026-03-02 by Ada")
	zero(t, c, k, 300, "Cy")
	zero(t, c, k, 500, "Di")
	back, err = c.Undo(ch, newest(t, c), "Bo")
	require.NoError(t, err)
	require.Equal(t, "Cy", back.Who)
	latest, err := store.Latest(ch)
	require.NoError(t, err)
	require.InDelta(t, 300, latest.Points[0].Raw, 1)
	all, err := store.Load(ch)
	require.NoError(t, err)
	require.Len(t, all, 5)
	require.Equal(t, 5, k.reloaded)
	require.NoError(t, c.Begin(ch, "Ada"))
	_, err = c.Undo(ch, newest(t, c), "Bo")
	require.ErrorContains(t, err, "end that first")
}

func TestTwoPeopleDoNotTakeEachOthersSteps(t *testing.T) {
	c, k, _ := calibrator(t)
	require.NoError(t, c.Begin(ch, "Ada"))
	require.ErrorContains(t, c.Begin(ch, "Bo"), "already, since 12:00 by Ada")
	seen := mark(t, c)
	require.NoError(t, c.Next(ch, seen, calibrate.Choose{Method: calibrate.TwoPoint}))
	require.ErrorContains(t, c.Next(ch, seen, calibrate.Choose{Method: calibrate.Zero}), "somebody else went on")
	k.steady(0)
	require.NoError(t, c.Next(ch, mark(t, c), calibrate.Take{Reference: 0}))
	require.NoError(t, c.Next(ch, mark(t, c), calibrate.Cancel{}))
	require.Nil(t, k.checking())
	require.NoError(t, c.Begin(ch, "Bo"), "after one was given up another may begin")
}

func TestWhatCannotBeCalibrated(t *testing.T) {
	c, k, _ := calibrator(t)
	for channel, why := range map[frame.Channel]string{frame.Trigger: "on/off", frame.Flow: "no sensor", frame.NumChannels: "no such"} {
		require.Contains(t, c.Cannot(channel), why)
		require.ErrorContains(t, c.Begin(channel, "Ada"), why)
		_, ok := c.View(channel)
		require.False(t, ok)
	}
	require.Error(t, c.Next(ch, "", calibrate.Back{}))
	k.tap = func(calibrate.Sample) {}
	require.ErrorContains(t, c.Begin(ch, "Ada"), "something else checks it")
}

// A channel that is being checked is not watched: nobody may forget it so.
func TestForgottenCalibrationIsGivenUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c, k, store := calibrator(t)
		require.NoError(t, c.Begin(ch, "Ada"))
		for i := range 4 {
			time.Sleep(9 * time.Minute)
			e := []calibrate.Event{calibrate.Choose{Method: calibrate.Zero}, calibrate.Take{Reference: 0}, calibrate.Back{}, calibrate.Choose{Method: calibrate.Zero}}[i]
			err := c.Next(ch, mark(t, c), e)
			require.Equal(t, i == 1, err != nil, "a point without a reading is refused, and tells that somebody is there: %v", err)
			require.NotNil(t, k.checking(), "somebody goes on")
		}
		// A page that is left open looks every 0.7 s without anybody there.
		for began := time.Now(); time.Since(began) < 10*time.Minute+time.Second; time.Sleep(700 * time.Millisecond) {
			_, ok := c.View(ch)
			require.True(t, ok)
		}
		synctest.Wait()
		require.Nil(t, k.checking())
		v, ok := c.View(ch)
		require.True(t, ok)
		require.Equal(t, calibrate.Cancelled, v.Step)
		latest, err := store.Latest(ch)
		require.NoError(t, err)
		require.Nil(t, latest)
		time.Sleep(20 * time.Minute) // the timer of an ended one does nothing
		synctest.Wait()
	})
}
