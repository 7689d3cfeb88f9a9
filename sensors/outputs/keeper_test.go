package outputs

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/sensors/gpiochip"
	"headroom/sensors/gpiochip/gpiofake"
)

func line(name string) Output { return Output{Line: gpiochip.Line{Name: name}, ActiveLow: true} }

func options(b *gpiofake.Board) Options {
	beacon, horn := line("BEACON"), line("HORN")
	return Options{Lines: b, Beacon: &beacon, Horn: &horn, Stop: &StopRelay{Output: line("RELAY")}}
}

type rig struct {
	board *gpiofake.Board
	k     *Keeper
	err   error
	done  chan struct{}
}

func start(t *testing.T, change func(*Options)) (*rig, context.CancelFunc) {
	t.Helper()
	r := &rig{board: gpiofake.New()}
	o := options(r.board)
	change(&o)
	var err error
	r.k, err = New(o)
	require.NoError(t, err)
	return r, r.run(t)
}

func (r *rig) run(t *testing.T) context.CancelFunc {
	ctx, cancel := context.WithCancel(t.Context())
	r.done = make(chan struct{})
	go func() { r.err = r.k.Run(ctx); close(r.done) }()
	time.Sleep(step / 2)
	synctest.Wait()
	return cancel
}

// tick refreshes ten times a second for that long.
func (r *rig) tick(c Command, long time.Duration) {
	for range long / (100 * time.Millisecond) {
		r.k.Refresh(c)
		time.Sleep(100 * time.Millisecond)
	}
	synctest.Wait()
}

func (r *rig) level(name string) bool {
	w := r.board.Writes(name)
	return w[len(w)-1].Active
}

func same(*Options) {}

var runOn = Command{Run: true}

func TestLinesAppearInTheirSafeStateAndNothingElse(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t, same)
		time.Sleep(time.Minute) // nobody refreshes
		synctest.Wait()
		for _, name := range []string{"BEACON", "HORN", "RELAY"} {
			w := r.board.Writes(name)
			require.Len(t, w, 1, name)
			require.False(t, w[0].Active, name)
		}
		require.False(t, r.k.Dropped(), "nothing was commanded, so nothing was dropped")
		cancel()
		<-r.done
		require.NoError(t, r.err)
		require.False(t, r.board.Held("RELAY"))
	})
}

func TestCommandsAreFollowed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t, same)
		r.tick(Command{Signal{quick, steady}, true}, 4*time.Second)
		require.True(t, r.level("RELAY"))
		require.True(t, r.level("HORN"))
		w := r.board.Writes("BEACON")
		require.InDelta(t, 1+16, len(w), 1, "2 Hz for 4 s are 16 changes")
		for i := 2; i < len(w); i++ {
			require.InDelta(t, 0.25, (w[i].At - w[i-1].At).Seconds(), 2*step.Seconds())
			require.NotEqual(t, w[i-1].Active, w[i].Active)
		}
		_, horn, stop := r.k.Energised()
		require.True(t, horn && stop)
		require.Len(t, r.board.Writes("RELAY"), 2, "a relay that stays is not written again")
		r.tick(Command{}, 200*time.Millisecond)
		require.False(t, r.level("RELAY") || r.level("BEACON") || r.level("HORN"))
		cancel()
		<-r.done
	})
}

func TestAStalledTickDropsEverythingAndOnlyAStopRearms(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t, same)
		r.tick(Command{Signal{steady, steady}, true}, time.Second)
		last := time.Now().Add(-100 * time.Millisecond)
		for r.level("RELAY") {
			time.Sleep(time.Millisecond)
			synctest.Wait()
		}
		require.InDelta(t, 1, time.Since(last).Seconds(), 2*step.Seconds(), "KeepAlive after the last refresh")
		require.False(t, r.level("BEACON") || r.level("HORN"))
		require.True(t, r.k.Dropped())

		r.tick(runOn, 5*time.Second) // the tick is back and knows nothing
		require.False(t, r.level("RELAY"), "the machine must not start by itself")
		require.True(t, r.k.Dropped())
		r.tick(Command{}, 100*time.Millisecond)
		require.False(t, r.k.Dropped())
		r.tick(runOn, 100*time.Millisecond)
		require.True(t, r.level("RELAY"))
		cancel()
		<-r.done
		require.False(t, r.level("RELAY"), "safe on the way out")
	})
}

// A stall that ends before the keeper looks must drop all the same.
func TestALateRefreshIsAStall(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k, err := New(options(gpiofake.New()))
		require.NoError(t, err)
		k.Refresh(runOn)
		time.Sleep(time.Second + 1)
		k.Refresh(runOn)
		require.True(t, k.Dropped())
		c, ok := k.current(time.Now())
		require.True(t, ok)
		require.False(t, c.Run)
	})
}

// Latch and keeper together: after a stall it takes a person.
func TestLatchAndKeeperTogether(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t, same)
		var latch Latch
		began := time.Now()
		tick := func(in LatchInput) {
			in.Dropped = r.k.Dropped()
			out := latch.Step(in, time.Since(began))
			r.k.Refresh(Command{Run: out.Run})
			time.Sleep(100 * time.Millisecond)
			synctest.Wait()
		}
		tick(LatchInput{})
		require.False(t, r.level("RELAY"))
		tick(LatchInput{Reset: true})
		require.True(t, r.level("RELAY"))
		time.Sleep(3 * time.Second)
		for range 20 {
			tick(LatchInput{})
			require.False(t, r.level("RELAY"))
		}
		tick(LatchInput{Reset: true})
		require.True(t, r.level("RELAY"))
		tick(LatchInput{Demand: true})
		require.False(t, r.level("RELAY"))
		cancel()
		<-r.done
	})
}

func TestAGoneChipEndsTheRunAndTheNextOneWaitsForAStop(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t, same)
		r.tick(runOn, time.Second)
		r.board.Unplug(true)
		r.tick(Command{Signal{quick, silent}, true}, time.Second)
		<-r.done
		cancel()
		require.ErrorContains(t, r.err, "no such device")
		r.board.Unplug(false)
		cancel = r.run(t)
		r.tick(runOn, time.Second)
		require.False(t, r.level("RELAY"))
		r.tick(Command{}, 100*time.Millisecond)
		r.tick(runOn, 100*time.Millisecond)
		require.True(t, r.level("RELAY"))
		cancel()
		<-r.done
	})
}

func TestAHungLineEndsTheRunInTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t, same)
		defer cancel()
		r.tick(runOn, time.Second)
		r.board.Stall(time.Minute)
		begin := time.Now()
		r.k.Refresh(Command{})
		<-r.done
		require.Less(t, time.Since(begin), time.Second)
		require.ErrorContains(t, r.err, "cannot set the stop relay: no answer in time")
		time.Sleep(2 * time.Minute) // the hung call ends
	})
}

func TestEnergisedStops(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t, func(o *Options) { o.Stop.Polarity = EnergisedStops })
		require.True(t, r.board.Writes("RELAY")[0].Active, "stopped from the first instant")
		r.tick(runOn, time.Second)
		require.False(t, r.level("RELAY"))
		time.Sleep(2 * time.Second)
		synctest.Wait()
		require.True(t, r.level("RELAY"))
		cancel()
		<-r.done
	})
}

// TestALostChipIsSeenThoughNothingMoves: a relay that stands is on a chip whose
// cable comes off.
func TestALostChipIsSeenThoughNothingMoves(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t, same)
		defer cancel()
		r.tick(runOn, 10*time.Second)
		select {
		case <-r.done:
			t.Fatal("nothing is wrong yet")
		default:
		}
		r.board.Unplug(true)
		r.tick(runOn, askEvery+200*time.Millisecond)
		select {
		case <-r.done:
		default:
			t.Fatal("the keeper keeps a relay that is gone")
		}
		require.ErrorContains(t, r.err, "cannot keep the")
		require.ErrorIs(t, r.err, gpiofake.ErrGone)
	})
}

func TestPulsesEndWhenTheMachineMustStop(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t, func(o *Options) { o.Stop.PulseEvery = 50 * time.Millisecond })
		r.tick(runOn, 2*time.Second)
		require.InDelta(t, 40, len(r.board.Writes("RELAY")), 3)
		r.tick(Command{}, 100*time.Millisecond)
		n := len(r.board.Writes("RELAY"))
		r.tick(Command{}, 2*time.Second)
		require.Len(t, r.board.Writes("RELAY"), n)
		require.False(t, r.level("RELAY"))
		cancel()
		<-r.done
	})
}

func TestALineThatIsHeldFreesTheOthers(t *testing.T) {
	b := gpiofake.New()
	_, err := b.Output(gpiochip.OutputRequest{Line: gpiochip.Line{Name: "HORN"}})
	require.NoError(t, err)
	k, err := New(options(b))
	require.NoError(t, err)
	require.ErrorContains(t, k.Run(t.Context()), "cannot have the horn")
	require.False(t, b.Held("RELAY") || b.Held("BEACON"))
}

func TestEverythingIsOffByDefault(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t, func(o *Options) { o.Beacon, o.Horn, o.Stop = nil, nil, nil })
		r.tick(Command{Signal{steady, steady}, true}, time.Second)
		for _, name := range []string{"BEACON", "HORN", "RELAY"} {
			require.Empty(t, r.board.Writes(name))
		}
		cancel()
		<-r.done
		require.NoError(t, r.err)
	})
}

func TestNewRefuses(t *testing.T) {
	for want, change := range map[string]func(*Options){
		"option Lines":                func(o *Options) { o.Lines = nil },
		"option KeepAlive is 1ms":     func(o *Options) { o.KeepAlive = time.Millisecond },
		"polarity 7":                  func(o *Options) { o.Stop.Polarity = 7 },
		"option PulseEvery is 1ms":    func(o *Options) { o.Stop.PulseEvery = time.Millisecond },
		"needs the polarity":          func(o *Options) { o.Stop.PulseEvery, o.Stop.Polarity = time.Second, EnergisedStops },
		"horn: neither chip":          func(o *Options) { o.Horn.Line.Name = "" },
		"are on the same line BEACON": func(o *Options) { o.Horn.Line.Name = "BEACON" },
	} {
		o := options(gpiofake.New())
		change(&o)
		_, err := New(o)
		require.ErrorContains(t, err, want)
	}
}
