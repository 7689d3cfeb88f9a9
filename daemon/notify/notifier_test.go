package notify

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/snapshot"
	"headroom/rules/engine"
)

func TestLevelsGoWhereTheyAreWanted(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		all, urgent := &fakeSink{}, &fakeSink{}
		src := newScript()
		n, stop := launch(t, src, options(
			Target{Name: "all", MinLevel: engine.Advice, Sink: all},
			Target{Name: "urgent", MinLevel: engine.Act, Sink: urgent}))
		src.raise(flowLost, engine.Advice)
		src.raise(inletAct, engine.Act)
		synctest.Wait()
		src.back(flowLost, engine.Advice)
		src.back(inletAct, engine.Act)
		synctest.Wait()
		stop()
		require.Equal(t, []string{"returned inlet_low.act"}, urgent.got()[1:])
		require.ElementsMatch(t, []string{"raised inlet_low.act", "raised sensor.flow", "returned inlet_low.act", "returned sensor.flow"}, all.got())
		s := n.Stats().Targets
		require.Equal(t, [2]uint64{4, 2}, [2]uint64{s[0].Sent, s[1].Sent})
		require.True(t, all.closed && urgent.closed)
	})
}

func TestNotificationSaysAll(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sink := &fakeSink{}
		src := newScript()
		src.wall = -14 * 24 * time.Hour // a clock without a battery
		_, stop := launch(t, src, options(Target{Name: "a", Sink: sink}))
		time.Sleep(time.Minute)
		src.raise(inletAct, engine.Act)
		synctest.Wait()
		stop()
		require.Len(t, sink.took, 1)
		n := sink.took[0]
		require.Equal(t, "7-1-inlet_low.act", n.ID())
		require.Equal(t, 160*time.Second, n.Mono)
		require.Equal(t, 158*time.Second, n.OnsetMono)
		require.Equal(t, 2*time.Second, n.Wall.Sub(n.OnsetWall))
		require.Equal(t, 34e3, n.Value.SI)
		require.Equal(t, "4.9 psi (34 kPa)", n.text(n.Value))
		require.Equal(t, ClockSynced, n.Clock)
		require.WithinDuration(t, time.Now().Add(-2*time.Second), n.onset, time.Millisecond, "the onset by our own clock, not by the wall's")
	})
}

// A week without network: a state every ten seconds must cost neither memory
// nor a flood at the end.
func TestDaysWithoutNetworkEndInOneMessageEach(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sink := &fakeSink{send: down}
		src := newScript()
		n, stop := launch(t, src, options(Target{Name: "a", Sink: sink}))
		defer stop()
		const flaps = 6 * 60 * 24 // one day of a flapping alarm
		for i := range flaps {
			src.change(inletWarn, engine.Warning, i%2 == 0)
			time.Sleep(10 * time.Second)
		}
		src.raise(inletAct, engine.Act)
		synctest.Wait()
		s := n.Stats().Targets[0]
		require.True(t, s.Failing)
		require.Equal(t, errDown.Error(), s.LastError)
		require.Equal(t, 2, s.Waiting)
		require.Less(t, s.Failures, uint64(flaps+10), "news may cut a pause short, but no more")

		sink.behave(nil)
		time.Sleep(DefaultRetryMax)
		synctest.Wait()
		require.Equal(t, []string{"raised inlet_low.act", "returned inlet_low.warn"}, sink.got(), "the one that stands comes first")
		require.Equal(t, flaps-1, sink.took[1].Coalesced)
		s = n.Stats().Targets[0]
		require.False(t, s.Failing)
		require.Empty(t, s.LastError)
		require.Equal(t, uint64(flaps+1), s.Sent+s.Coalesced)
	})
}

func TestHungTargetHoldsUpNobody(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		hung, fine := &fakeSink{send: hang}, &fakeSink{}
		src := newScript()
		n, stop := launch(t, src, options(Target{Name: "hung", Sink: hung}, Target{Name: "fine", Sink: fine}))
		src.raise(inletWarn, engine.Warning)
		synctest.Wait()
		began := time.Now()
		src.back(inletWarn, engine.Warning)
		synctest.Wait()
		require.Equal(t, []string{"raised inlet_low.warn", "returned inlet_low.warn"}, fine.got())
		require.Zero(t, time.Since(began))
		stop()
		require.Equal(t, DefaultDrain, time.Since(began), "an end under the deadline")
		require.Equal(t, uint64(1), n.Stats().Targets[0].Unsent)
	})
}

func TestPausesGrowAndNewsCutsThemShort(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sink := &fakeSink{send: down}
		src := newScript()
		_, stop := launch(t, src, options(Target{Name: "a", Sink: sink, RetryMin: time.Second, RetryMax: 5 * time.Minute}))
		defer stop()
		src.raise(inletWarn, engine.Warning)
		time.Sleep(2 * time.Hour)
		tries := sink.attempts()
		full := time.Second
		for i := 1; i < len(tries); i++ {
			gap := tries[i].Sub(tries[i-1])
			require.GreaterOrEqual(t, gap, full/2, "pause %d", i)
			require.LessOrEqual(t, gap, full, "pause %d", i)
			full = min(2*full, 5*time.Minute)
		}
		require.Greater(t, len(tries), 24)

		for { // wait until an attempt has just failed
			before := len(sink.attempts())
			time.Sleep(time.Second)
			if len(sink.attempts()) > before {
				break
			}
		}
		time.Sleep(time.Second)
		before := len(sink.attempts())
		sink.behave(nil)
		src.raise(inletAct, engine.Act)
		synctest.Wait()
		require.Equal(t, before+2, len(sink.attempts()), "both are sent at once")
	})
}

func TestShutdownSendsWhatTheLastTickSaid(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		slow := &fakeSink{}
		slow.behave(func(context.Context, []Notification) error { time.Sleep(time.Second); return nil })
		src := newScript()
		n, stop := launch(t, src, options(Target{Name: "a", Sink: slow}))
		synctest.Wait()
		src.raise(inletWarn, engine.Warning)
		src.raise(hotWarn, engine.Warning)
		stop()
		require.Len(t, slow.got(), 2)
		require.Zero(t, n.Stats().Targets[0].Unsent)
	})
}

// lateSource has its only event just after it was read.
type lateSource struct {
	*script
	reads int
}

func (l *lateSource) Changed() <-chan struct{} { return nil }

func (l *lateSource) Events(after uint64) []snapshot.Event {
	if l.reads++; l.reads == 1 {
		return nil
	}
	return l.script.Events(after)
}

func TestFeedReadsOnceMoreAtTheEnd(t *testing.T) {
	src := &lateSource{script: newScript()}
	src.raise(inletAct, engine.Act)
	var got []Notification
	f := sampleFeed()
	f.store, f.put = src, func(n Notification) { got = append(got, n) }
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	f.follow(ctx)
	require.Len(t, got, 1)
}

func TestBrokenSinkCostsOnlyItself(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sink := &fakeSink{send: func(context.Context, []Notification) error { panic("no") }}
		src := newScript()
		n, stop := launch(t, src, options(Target{Name: "a", Sink: sink}))
		src.raise(inletWarn, engine.Warning)
		synctest.Wait()
		require.Equal(t, "cannot send: the sink broke: no", n.Stats().Targets[0].LastError)
		sink.behave(nil)
		time.Sleep(time.Second)
		stop()
		require.Equal(t, []string{"raised inlet_low.warn"}, sink.got())
	})
}

func TestRefusedIsCutOutOfItsBatch(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sink := &fakeSink{traits: Traits{Batch: 100}}
		sink.behave(func(_ context.Context, batch []Notification) error {
			for _, n := range batch {
				if n.Alarm == hotWarn {
					return &Failure{Err: errDown, Refused: true}
				}
			}
			return nil
		})
		src := newScript()
		for _, a := range []engine.AlarmID{inletWarn, inletAct, hotWarn, flowLost} {
			src.raise(a, engine.Warning)
		}
		n, stop := launch(t, src, options(Target{Name: "a", Sink: sink}))
		synctest.Wait()
		stop()
		require.ElementsMatch(t, []string{"raised inlet_low.warn", "raised inlet_low.act", "raised sensor.flow"}, sink.got())
		s := n.Stats().Targets[0]
		require.Equal(t, [3]uint64{3, 1, 0}, [3]uint64{s.Sent, s.Refused, s.Failures})
	})
}

func TestLostEventsAreMadeUpFromTheSnapshot(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sink := &fakeSink{}
		src := newScript()
		src.raise(inletWarn, engine.Warning) // will be lost and stands
		src.raise(hotWarn, engine.Warning)   // will be lost and go back, lost too
		src.back(hotWarn, engine.Warning)
		for i := range 500 {
			src.change(flowLost, engine.Warning, i%2 == 0)
		}
		n, stop := launch(t, src, options(Target{Name: "a", Sink: sink}))
		synctest.Wait()
		stop()
		got := sink.got()
		require.Equal(t, "raised inlet_low.warn", got[0])
		require.Equal(t, "returned sensor.flow", got[len(got)-1])
		require.NotContains(t, got, "returned water_hot.warn", "nobody was told that it was raised")
		require.Equal(t, uint64(3), n.Stats().Missed)
		require.Equal(t, "7-3-inlet_low.warn", sink.took[0].ID())
		require.False(t, sink.took[0].Value.Known, "the value went with the event")
	})
}

func TestStandingAlarmsAreRepeated(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sink := &fakeSink{traits: Traits{Batch: 10, Repeat: time.Minute, Linger: 3 * time.Minute}}
		src := newScript()
		n, stop := launch(t, src, options(Target{Name: "a", Sink: sink}))
		src.raise(inletWarn, engine.Warning)
		time.Sleep(10*time.Minute + time.Second)
		require.Len(t, sink.got(), 11)
		src.back(inletWarn, engine.Warning)
		time.Sleep(10 * time.Minute)
		stop()
		s := n.Stats().Targets[0]
		require.Equal(t, uint64(2), s.Sent)
		require.Equal(t, uint64(10+3), s.Repeated, "ten while it stood, three while it lingered")
	})
}
