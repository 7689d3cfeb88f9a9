package pulse_test

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
	"headroom/sensors/pulse"
)

func options(b *gpiofake.Board) pulse.Options {
	return pulse.Options{
		Lines: b, Line: gpiochip.Line{Name: "FLOW"}, Channel: frame.Flow,
		K: pulse.KTable{{Hz: 0, PulsesPerM3: 450_000}}, MaxHz: 250,
	}
}

// rig runs a driver in a synctest bubble and keeps its last reading.
type rig struct {
	board  *gpiofake.Board
	driver *pulse.Driver
	err    error
	done   chan struct{}

	mu    sync.Mutex
	last  sensors.Reading
	posts int
}

func (r *rig) post(x sensors.Reading) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.last, r.posts = x, r.posts+1
}

func (r *rig) get() sensors.Reading {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.last
}

func (r *rig) count() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.posts
}

func start(t *testing.T, change func(*pulse.Options)) (*rig, context.CancelFunc) {
	t.Helper()
	r := &rig{board: gpiofake.New(), done: make(chan struct{})}
	o := options(r.board)
	change(&o)
	var err error
	r.driver, err = pulse.New(o)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	begin := time.Now()
	go func() {
		defer close(r.done)
		r.err = r.driver.Run(ctx, func() time.Duration { return time.Since(begin) }, r.post)
	}()
	synctest.Wait()
	return r, cancel
}

func (r *rig) pulses(n int, period time.Duration) {
	for range n {
		time.Sleep(period)
		r.board.Pulse("FLOW")
	}
	synctest.Wait()
}

func none(*pulse.Options) {}

func TestDriverReadsFlowFromStartToStandstill(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t, none)
		require.Equal(t, gpiochip.InputRequest{
			Line: gpiochip.Line{Name: "FLOW"}, Consumer: "headroom flow", Edges: gpiochip.Rising, Buffer: 1024,
		}, r.board.Request("FLOW"))
		time.Sleep(time.Second)
		synctest.Wait()
		require.Equal(t, frame.Missing, r.get().Sample.Status)
		require.NotEmpty(t, r.get().Note)
		time.Sleep(2200 * time.Millisecond)
		synctest.Wait()
		require.Equal(t, frame.Sample{Value: 0, Status: frame.Good}, r.get().Sample, "3 s of silence are a flow of 0")

		r.pulses(400, 10*time.Millisecond) // 100 Hz: 100/450 L/s
		require.Equal(t, frame.Good, r.get().Sample.Status)
		require.InEpsilon(t, 100./450_000, r.get().Sample.Value, 1e-9)
		before := r.count()
		time.Sleep(10 * time.Second)
		synctest.Wait()
		require.Equal(t, 50, r.count()-before, "a steady five readings a second")
		require.Equal(t, frame.Sample{Value: 0, Status: frame.Good}, r.get().Sample)
		require.Empty(t, r.get().Note)
		require.Equal(t, pulse.Counts{Pulses: 400}, r.driver.Counts())
		cancel()
		<-r.done
		require.NoError(t, r.err)
		require.False(t, r.board.Held("FLOW"), "the line is given back")
	})
}

func TestDriverSaysWhenTheChipIsGoneAndComesBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t, none)
		defer cancel()
		r.pulses(10, 10*time.Millisecond)
		r.board.Unplug(true)
		<-r.done
		require.ErrorContains(t, r.err, "pulses on FLOW: no such device")
		require.ErrorContains(t, r.driver.Run(t.Context(), func() time.Duration { return 0 }, nil), "cannot count pulses on FLOW")
		r.board.Unplug(false)
		ctx, stop := context.WithTimeout(t.Context(), 250*time.Millisecond)
		defer stop()
		require.NoError(t, r.driver.Run(ctx, func() time.Duration { return 0 }, r.post))
		require.Equal(t, frame.Missing, r.get().Sample.Status, "a new reckoning, nothing is carried over")
		require.EqualValues(t, 10, r.driver.Counts().Pulses, "totals go on")
	})
}

func TestDriverNotesLossOnlyWhenItLasts(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t, none)
		lossy := func(seconds int) {
			for range seconds {
				r.pulses(90, 10*time.Millisecond)
				time.Sleep(100 * time.Millisecond)
				r.board.Lose("FLOW", 10) // ten pulses in these 100 ms
			}
		}
		lossy(11)
		require.Equal(t, frame.Good, r.get().Sample.Status)
		lossy(15)
		r.pulses(45, 10*time.Millisecond) // the last reading is now one amid pulses
		require.Equal(t, frame.Service, r.get().Sample.Status)
		require.Contains(t, r.get().Note, "were read too late")
		require.InEpsilon(t, 100./450_000, r.get().Sample.Value, 0.02, "the lost ones are in the flow")
		require.NotZero(t, r.driver.Counts().Lost)
		r.pulses(2500, 10*time.Millisecond)
		require.Equal(t, frame.Good, r.get().Sample.Status)
		cancel()
		<-r.done
	})
}

func TestDriverDoubtsAnImpossibleSignal(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t, none)
		r.pulses(400, time.Second/300) // above MaxHz 250, below the impossible 500
		require.Equal(t, frame.OutOfBand, r.get().Sample.Status)
		require.Contains(t, r.get().Note, "the part gives 250 at most")
		for range 2500 { // each pulse bounces once
			r.pulses(1, 9*time.Millisecond)
			r.pulses(1, time.Millisecond)
		}
		require.Equal(t, frame.Suspect, r.get().Sample.Status)
		require.Contains(t, r.get().Note, "impossibly soon")
		require.InEpsilon(t, 100./450_000, r.get().Sample.Value, 1e-3)
		require.Greater(t, r.driver.Counts().Rejected, uint64(2000))
		cancel()
		<-r.done
	})
}

func TestDriverFlagsTheEndOfTheTable(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t, func(o *pulse.Options) {
			o.K = pulse.KTable{{Hz: 10, PulsesPerM3: 400_000}, {Hz: 50, PulsesPerM3: 450_000}}
		})
		r.pulses(200, 10*time.Millisecond)
		require.Equal(t, frame.Service, r.get().Sample.Status)
		require.Contains(t, r.get().Note, "outside the meter's K-factor table")
		require.InEpsilon(t, 100./450_000, r.get().Sample.Value, 1e-9)
		time.Sleep(4 * time.Second)
		synctest.Wait()
		require.Equal(t, frame.Sample{Value: 0, Status: frame.Good}, r.get().Sample)
		cancel()
		<-r.done
	})
}

func TestDriverReadsShaftSpeed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, cancel := start(t, func(o *pulse.Options) {
			o.Channel, o.K, o.PulsesPerRev, o.Falling, o.Bias, o.Debounce = frame.ShaftSpeed, nil, 2, true, gpiochip.PullUp, time.Millisecond
		})
		r.pulses(200, 20*time.Millisecond) // 50 Hz, two a turn
		require.Equal(t, frame.ShaftSpeed, r.get().Channel)
		require.InEpsilon(t, 25, r.get().Sample.Value, 1e-9)
		require.Equal(t, gpiochip.Falling, r.board.Request("FLOW").Edges)
		require.Equal(t, []frame.Channel{frame.ShaftSpeed}, r.driver.Channels())
		require.Equal(t, "shaft_speed pulses on FLOW", r.driver.Name())
		cancel()
		<-r.done
	})
}

func TestNewRefuses(t *testing.T) {
	for want, change := range map[string]func(*pulse.Options){
		"option Lines":                    func(o *pulse.Options) { o.Lines = nil },
		"neither chip nor line":           func(o *pulse.Options) { o.Line.Name = "" },
		"option MaxHz is 0":               func(o *pulse.Options) { o.MaxHz = 0 },
		"option Window is 1ms":            func(o *pulse.Options) { o.Window = time.Millisecond },
		"option ZeroAfter is 1h":          func(o *pulse.Options) { o.ZeroAfter = time.Hour },
		"option Period is -1s":            func(o *pulse.Options) { o.Period = -time.Second },
		"option Debounce is 4ms":          func(o *pulse.Options) { o.Debounce = 4 * time.Millisecond },
		"table is empty":                  func(o *pulse.Options) { o.K = nil },
		"option PulsesPerRev is for":      func(o *pulse.Options) { o.PulsesPerRev = 2 },
		"option K is for flow":            func(o *pulse.Options) { o.Channel = frame.ShaftSpeed },
		"option PulsesPerRev is 0":        func(o *pulse.Options) { o.Channel, o.K = frame.ShaftSpeed, nil },
		"option Channel is motor_current": func(o *pulse.Options) { o.Channel = frame.MotorCurrent },
	} {
		o := options(gpiofake.New())
		change(&o)
		_, err := pulse.New(o)
		require.ErrorContains(t, err, want)
	}
}
