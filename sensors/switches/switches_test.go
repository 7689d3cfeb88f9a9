package switches_test

import (
	"context"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/gpiochip"
	"headroom/sensors/gpiochip/gpiofake"
	"headroom/sensors/switches"
)

func options(b *gpiofake.Board) switches.Options {
	return switches.Options{Lines: b, Switches: []switches.Switch{
		{Line: gpiochip.Line{Name: "RUN"}, Channel: frame.Running},
		{Line: gpiochip.Line{Name: "PEDAL"}, Channel: frame.Trigger, ActiveLow: true, Bias: gpiochip.PullUp, Debounce: 5 * time.Millisecond},
	}}
}

type rig struct {
	board *gpiofake.Board
	err   error
	done  chan struct{}

	mu    sync.Mutex
	last  [frame.NumChannels]sensors.Reading
	posts [frame.NumChannels]int
}

func (r *rig) post(x sensors.Reading) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.last[x.Channel] = x
	r.posts[x.Channel]++
}

func (r *rig) get(c frame.Channel) sensors.Reading {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.last[c]
}

func (r *rig) count(c frame.Channel) int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.posts[c]
}

func start(t *testing.T) (*rig, context.CancelFunc) {
	t.Helper()
	r := &rig{board: gpiofake.New(), done: make(chan struct{})}
	r.board.Set("PEDAL", true) // pulled up, not pressed
	d, err := switches.New(options(r.board))
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	begin := time.Now()
	go func() {
		defer close(r.done)
		r.err = d.Run(ctx, func() time.Duration { return time.Since(begin) }, r.post)
	}()
	time.Sleep(10 * time.Millisecond)
	synctest.Wait()
	return r, cancel
}

func TestSwitchesFollowAtOnceAndSpeakSteadily(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t)
		require.Equal(t, frame.Sample{Value: 0, Status: frame.Good}, r.get(frame.Running).Sample)
		require.Equal(t, frame.Sample{Value: 0, Status: frame.Good}, r.get(frame.Trigger).Sample, "active low")
		require.Equal(t, 20*time.Millisecond, r.board.Request("RUN").Debounce)
		require.Equal(t, gpiochip.PullUp, r.board.Request("PEDAL").Bias)

		time.Sleep(123 * time.Millisecond)
		r.board.Set("RUN", true)
		r.board.Set("PEDAL", false)
		synctest.Wait()
		require.Equal(t, sensors.Reading{Channel: frame.Running, Sample: frame.Sample{Value: 1, Status: frame.Good}, At: 133 * time.Millisecond}, r.get(frame.Running))
		require.True(t, r.get(frame.Trigger).Sample.On())

		before := r.count(frame.Running)
		time.Sleep(10 * time.Second)
		synctest.Wait()
		require.InDelta(t, 20, r.count(frame.Running)-before, 1)
		require.Equal(t, frame.Good, r.get(frame.Running).Sample.Status)
		cancel()
		<-r.done
		require.NoError(t, r.err)
		require.False(t, r.board.Held("RUN") || r.board.Held("PEDAL"))
	})
}

func TestALostEdgeIsMadeGoodByTheNextReading(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t)
		for range 101 { // more than the buffer, all at once: the level counts
			r.board.Set("RUN", true)
			r.board.Set("RUN", false)
		}
		r.board.Set("RUN", true)
		time.Sleep(2 * time.Second)
		synctest.Wait()
		require.Equal(t, frame.Sample{Value: 1, Status: frame.Good}, r.get(frame.Running).Sample)
		cancel()
		<-r.done
	})
}

func TestAChatteringContactIsSuspect(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t)
		for i := range 20 {
			r.board.Set("RUN", i%2 == 0)
			time.Sleep(50 * time.Millisecond)
		}
		synctest.Wait()
		require.Equal(t, frame.Suspect, r.get(frame.Running).Sample.Status)
		require.Contains(t, r.get(frame.Running).Note, "loose wire")
		require.Equal(t, frame.Good, r.get(frame.Trigger).Sample.Status)
		time.Sleep(2 * time.Second)
		synctest.Wait()
		require.Equal(t, frame.Good, r.get(frame.Running).Sample.Status)
		for i := range 20 { // quick work with the pedal is none
			r.board.Set("RUN", i%2 == 0)
			time.Sleep(150 * time.Millisecond)
			synctest.Wait()
			require.Equal(t, frame.Good, r.get(frame.Running).Sample.Status)
		}
		cancel()
		<-r.done
	})
}

func TestAGoneChipEndsTheRun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t)
		defer cancel()
		r.board.Unplug(true)
		<-r.done
		require.ErrorContains(t, r.err, "cannot read the switch")
		require.ErrorContains(t, r.err, "no such device")
	})
}

func TestALineThatIsHeldEndsTheRunAndFreesTheOthers(t *testing.T) {
	b := gpiofake.New()
	_, err := b.Input(gpiochip.InputRequest{Line: gpiochip.Line{Name: "PEDAL"}})
	require.NoError(t, err)
	d, err := switches.New(options(b))
	require.NoError(t, err)
	err = d.Run(t.Context(), func() time.Duration { return 0 }, func(sensors.Reading) {})
	require.ErrorContains(t, err, "cannot read the switch PEDAL")
	require.False(t, b.Held("RUN"))
	require.Equal(t, "switches on RUN PEDAL", d.Name())
	require.Equal(t, []frame.Channel{frame.Running, frame.Trigger}, d.Channels())
}

func TestNewRefuses(t *testing.T) {
	for want, change := range map[string]func(*switches.Options){
		"option Lines":                func(o *switches.Options) { o.Lines = nil },
		"option Switches":             func(o *switches.Options) { o.Switches = nil },
		"option Period is 1h":         func(o *switches.Options) { o.Period = time.Hour },
		"it is no on/off input":       func(o *switches.Options) { o.Switches[0].Channel = frame.Flow },
		"two switches feed":           func(o *switches.Options) { o.Switches[0].Channel = frame.Trigger },
		"for running: neither chip":   func(o *switches.Options) { o.Switches[0].Line.Name = "" },
		"for running: debounce 2s is": func(o *switches.Options) { o.Switches[0].Debounce = 2 * time.Second },
	} {
		o := options(gpiofake.New())
		change(&o)
		_, err := switches.New(o)
		require.ErrorContains(t, err, want)
	}
}
