package notify

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/config"
	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/frame"
)

// The real engine and the real store: a flow sensor whose wire comes off, and
// is put back on. The tick publishes and never hears of a target that hangs.
func TestFromTheTickToTheTarget(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		e, err := engine.New(config.Default().Engine)
		require.NoError(t, err)
		var state engine.State
		store, sink, hung := snapshot.NewStore(), &fakeSink{}, &fakeSink{send: hang}
		n, stop := launch(t, store, options(Target{Name: "fine", Sink: sink}, Target{Name: "hung", Sink: hung}))
		defer stop()
		var seq uint64
		tick := func(d time.Duration, st frame.Status) {
			for range d / (100 * time.Millisecond) {
				time.Sleep(100 * time.Millisecond)
				seq++
				mono := time.Duration(seq) * 100 * time.Millisecond
				var f frame.Frame
				f.Set(frame.InletPressure, 300e3)
				f.Set(frame.WaterTemp, 288)
				f.Set(frame.MotorCurrent, 0)
				f.Set(frame.Flow, 0)
				f.Samples[frame.Flow].Status = st
				began := time.Now()
				store.Publish(&snapshot.Snapshot{Seq: seq, Mono: mono, Wall: time.Now(), Verdicts: *e.Step(&state, &f, mono)})
				require.Zero(t, time.Since(began))
			}
		}
		tick(30*time.Second, frame.Good)
		synctest.Wait()
		require.Empty(t, sink.got())
		tick(30*time.Second, frame.Failed)
		tick(60*time.Second, frame.Good)
		synctest.Wait()
		stop()
		require.Equal(t, []string{"raised sensor.flow", "returned sensor.flow"}, sink.got())
		raised := sink.took[0]
		require.Equal(t, frame.Failed, raised.Sensor)
		require.InDelta(t, 30, raised.OnsetMono.Seconds(), 0.2, "the onset is when the wire came off, before the alarm's delay")
		require.Equal(t, "Flow: sensor can't be trusted", raised.Words.Title)
		require.Zero(t, n.Stats().Missed)
	})
}
