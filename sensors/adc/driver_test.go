package adc

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/convert"
)

// dc are chips whose pin p stands at volts[p].
func dc(addrs []uint16, volts ...float64) map[uint16]*modelChip {
	out := map[uint16]*modelChip{}
	for _, a := range addrs {
		out[a] = &modelChip{volt: func(pin int, _ float64) float64 { return volts[pin] }}
	}
	return out
}

// sixteen are four chips with four loops each, on the first analog channels.
func sixteen() Options {
	o := Options{}
	var c frame.Channel
	for a := uint16(firstAddr); a <= lastAddr; a++ {
		chip := Chip{Addr: a}
		for m := AIN0; m <= AIN3; m++ {
			for c.Digital() {
				c = NoChannel
			}
			in := plain(fmt.Sprintf("%x-%v", a, m), m, c)
			in.Convert = convert.Loop{ShuntOhm: 100, Span: convert.Span{Low: 0, High: 1}}
			if _, hi := c.Believable(); c < NoChannel && hi < 1 || c == frame.WaterTemp || c == frame.AmbientTemp || c == frame.MotorTemp || c == frame.AirPressure {
				in.Channel = NoChannel
			}
			chip.Inputs = append(chip.Inputs, in)
			c++
			if c > NoChannel {
				c = NoChannel
			}
		}
		o.Chips = append(o.Chips, chip)
	}
	return o
}

// Source: 8, 12, 16 and 20 mA are 1/4, 1/2, 3/4 and all of the span.
func TestFourChipsWithFourInputs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := sixteen()
		bus := newBus(dc([]uint16{0x48, 0x49, 0x4a, 0x4b}, 0.8, 1.2, 1.6, 2.0))
		r := newRig(t, bus, o)
		all := r.run(2050 * time.Millisecond)
		for _, chip := range r.d.opt.Chips {
			for k, in := range chip.Inputs {
				s := byName(t, r.d.Stats(), in.Name)
				require.InDelta(t, 10, s.RateHz, 0.05, in.Name)
				require.EqualValues(t, 21, s.Conversions)
				require.EqualValues(t, 20, s.Repeats)
				require.Zero(t, s.Late+s.Resets+s.Errors+s.Saturated)
				for _, x := range of(all, in.Channel) {
					require.Equal(t, frame.Good, x.Sample.Status, "%s %s", in.Name, x.Note)
					require.InDelta(t, float64(k+1)/4, x.Sample.Value, 1e-4)
				}
			}
		}
		require.NotEmpty(t, of(all, frame.InletPressure))
		// The budget is an upper bound for what a scan really takes.
		last := all[0].At
		for _, x := range all[:len(r.d.Channels())] {
			last = max(last, x.At)
		}
		require.Less(t, last, r.d.Budget().Chip[0])
	})
}

func TestRatiometricWithItsSupply(t *testing.T) {
	for _, c := range []struct {
		name           string
		supplyV, share float64
		want           float64
		status         frame.Status
		note           string
	}{
		{"5 V, half", 5, 0.5, 4e5, frame.Good, ""},
		{"4.8 V, half", 4.8, 0.5, 4e5, frame.Good, ""},
		{"wire off", 5, 0, 0, frame.Failed, "signal 0 % of the supply: signal wire off, or short to ground"},
		{"supply gone", 0.2, 0.5, 0, frame.Failed, "voltage 0.2 V: the transducer's supply is too low: supply wire off or short"},
	} {
		synctest.Test(t, func(t *testing.T) {
			o := trailer(3)
			o.Chips[0].Inputs = o.Chips[0].Inputs[1:]
			bus := newBus(dc([]uint16{0x48}, 0, c.supplyV*c.share/2, 1.65, c.supplyV/2))
			all := newRig(t, bus, o).run(time.Second)
			got := of(all, frame.InletPressure)
			require.Len(t, got, 10)
			for _, x := range got {
				require.Equal(t, c.status, x.Sample.Status, "%s %s", c.name, x.Note)
				require.InDelta(t, c.want, x.Sample.Value, 150, c.name)
				require.Equal(t, c.note, x.Note)
			}
			w := of(all, frame.WaterTemp)
			require.InDelta(t, 298.15, w[0].Sample.Value, 0.02)
		})
	}
}

func TestAReferenceOnAnotherChipThatIsDown(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := trailer(3)
		in := o.Chips[0].Inputs
		o.Chips = []Chip{{Addr: 0x48, Inputs: in[1:3]}, {Addr: 0x49, Inputs: in[3:]}}
		bus := newBus(dc([]uint16{0x48, 0x49}, 0, 1.25, 1.65, 2.5))
		r := newRig(t, bus, o)
		r.start()
		time.Sleep(time.Second)
		bus.mu.Lock()
		bus.chips[0x49].dead = true
		bus.mu.Unlock()
		time.Sleep(time.Second)
		all := of(r.end(), frame.InletPressure)
		require.Equal(t, frame.Missing, all[0].Sample.Status, "the other chip's first scan isn't through")
		require.Equal(t, frame.Good, all[5].Sample.Status)
		require.Equal(t, frame.Failed, all[len(all)-1].Sample.Status)
		require.Contains(t, all[len(all)-1].Note, "supply voltage isn't known")
	})
}

func TestAnOldReferenceDoesNotCount(t *testing.T) {
	o := trailer(3)
	o.Bus = newBus(nil)
	d, err := New(o)
	require.NoError(t, err)
	d.inputs[0].note(20000, time.Second)
	inlet := d.inputs[1]
	require.Equal(t, convert.Signal{RefV: 5, RefOK: true}, d.reference(inlet, time.Second+200*time.Millisecond))
	require.False(t, d.reference(inlet, time.Second+201*time.Millisecond).RefOK, "older than two scans of 100 ms")
	require.Equal(t, convert.Signal{}, d.reference(d.inputs[2], 0), "needs none")
}

func TestContinuousWithOneInput(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := oneLoop()
		o.Chips[0].Continuous = true
		bus := newBus(dc([]uint16{0x49}, 0, 0, 1.2, 0))
		r := newRig(t, bus, o)
		r.start()
		time.Sleep(1050 * time.Millisecond)
		bus.mu.Lock()
		bus.chips[0x49].brownOut()
		bus.mu.Unlock()
		time.Sleep(time.Second)
		all := r.end()
		require.Len(t, all, 21)
		for _, x := range all {
			require.Equal(t, frame.Good, x.Sample.Status)
			require.InDelta(t, 800e3, x.Sample.Value, 50)
		}
		s := r.d.Stats()[0]
		require.EqualValues(t, 1, s.Resets)
		require.InDelta(t, 10, s.RateHz, 0.3)
	})
}

func TestOneDeadChipCostsItsOwnChannels(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := sixteen()
		bus := newBus(dc([]uint16{0x48, 0x49, 0x4a, 0x4b}, 0.8, 1.2, 1.6, 2.0))
		bus.chips[0x48].dead = true
		r := newRig(t, bus, o)
		r.start()
		time.Sleep(time.Second)
		synctest.Wait()
		r.mu.Lock()
		for _, x := range of(r.got, frame.InletPressure) {
			require.Equal(t, frame.Failed, x.Sample.Status)
			require.Equal(t, "cannot reach ADC 0x48: no such device or address: check its wires, supply and address", x.Note)
		}
		r.got = nil
		r.mu.Unlock()
		bus.mu.Lock()
		bus.chips[0x48].dead = false
		bus.mu.Unlock()
		time.Sleep(time.Second)
		all := r.end()
		require.Equal(t, frame.Good, of(all, frame.InletPressure)[3].Sample.Status, "it comes back by itself")
		for _, x := range of(all, frame.OutletPressure) {
			require.Equal(t, frame.Good, x.Sample.Status)
		}
		require.InDelta(t, 10, byName(t, r.d.Stats(), "4b-AIN3").RateHz, 0.1)
	})
}

func TestAllChipsGoneEndsTheRun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := sixteen()
		bus := newBus(dc([]uint16{0x48, 0x49, 0x4a, 0x4b}, 0.8, 1.2, 1.6, 2.0))
		r := newRig(t, bus, o)
		r.start()
		time.Sleep(300 * time.Millisecond)
		bus.mu.Lock()
		for _, c := range bus.chips {
			c.dead = true
		}
		bus.mu.Unlock()
		err := <-r.err
		require.ErrorContains(t, err, "cannot read any converter on model")
		require.ErrorIs(t, err, errNoAnswer)
		bus.mu.Lock()
		for _, c := range bus.chips {
			c.dead = false
		}
		bus.mu.Unlock()
		r.got = nil
		require.Equal(t, frame.Good, r.run(time.Second)[0].Sample.Status, "the next run begins anew")
	})
}

func TestAHungBusHangsNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus := newBus(dc([]uint16{0x49}, 0, 0, 1.2, 0))
		r := newRig(t, bus, oneLoop())
		r.start()
		time.Sleep(300 * time.Millisecond)
		release := make(chan struct{})
		bus.mu.Lock()
		bus.hang = release
		bus.mu.Unlock()
		t0 := time.Now()
		err := <-r.err
		require.ErrorIs(t, err, errHung)
		require.LessOrEqual(t, time.Since(t0), 250*time.Millisecond+100*time.Millisecond)
		bus.mu.Lock()
		calls := bus.calls
		bus.mu.Unlock()
		for range 3 {
			require.ErrorContains(t, r.d.Run(context.Background(), bus.now, r.take), "still hasn't come back")
		}
		bus.mu.Lock()
		require.Equal(t, calls, bus.calls, "no transfer is piled on a hung one")
		bus.hang = nil
		bus.mu.Unlock()
		close(release)
		synctest.Wait()
		r.got = nil
		require.Equal(t, frame.Good, r.run(time.Second)[0].Sample.Status)
	})
}

func TestRunEndsWithItsContextOnAHungBus(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus := newBus(dc([]uint16{0x49}, 0, 0, 1.2, 0))
		release := make(chan struct{})
		bus.hang = release
		r := newRig(t, bus, oneLoop())
		r.start()
		time.Sleep(10 * time.Millisecond)
		t0 := time.Now()
		r.stop()
		require.NoError(t, <-r.err)
		require.LessOrEqual(t, time.Since(t0), 250*time.Millisecond)
		close(release)
	})
}

type panicBus struct{ *modelBus }

func (panicBus) Tx(uint16, []byte, []byte) error { panic("index out of range") }

func TestABrokenBusDriverIsAnError(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := oneLoop()
		bus := newBus(nil)
		o.Bus, o.nap = panicBus{bus}, time.Sleep
		d, err := New(o)
		require.NoError(t, err)
		err = d.Run(context.Background(), bus.now, func(sensors.Reading) {})
		require.ErrorContains(t, err, "index out of range")
		require.False(t, errors.Is(err, errHung))
	})
}

// However the chips' supply dips and their clocks drift, a good reading is a
// true one. Two inputs differ, so that a mixed-up multiplexer would show.
func TestNoGoodReadingIsWrong(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		dips := rapid.SliceOfN(rapid.IntRange(1, 200_000), 1, 30).Draw(rt, "microseconds between dips")
		rate := rapid.Float64Range(0.89, 1.11).Draw(rt, "clock")
		synctest.Test(t, func(t *testing.T) {
			bus := newBus(dc([]uint16{0x48}, 0.8, 1.6, 0, 0))
			bus.chips[0x48].rate = rate
			o := Options{Chips: []Chip{{Addr: 0x48, Inputs: []Input{plain("a", AIN0, frame.InletPressure), plain("b", AIN1, frame.OutletPressure)}}}}
			r := newRig(t, bus, o)
			r.start()
			for _, d := range dips {
				time.Sleep(time.Duration(d) * time.Microsecond)
				bus.mu.Lock()
				bus.chips[0x48].brownOut()
				bus.mu.Unlock()
			}
			time.Sleep(200 * time.Millisecond)
			all := r.end()
			require.Equal(t, frame.Good, all[len(all)-1].Sample.Status)
			for _, x := range all {
				want := map[frame.Channel]float64{frame.InletPressure: 400e3, frame.OutletPressure: 1200e3}[x.Channel]
				if x.Sample.Status == frame.Good {
					require.InDelta(t, want, x.Sample.Value, 100, "%v", x)
				} else {
					require.NotEmpty(t, x.Note)
				}
			}
		})
	})
}

func TestAnUnbelievableValueIsOutOfBand(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := oneLoop()
		o.Chips[0].Inputs[0].Convert = convert.Loop{ShuntOhm: 100, Span: convert.Span{High: 1e9}}
		all := newRig(t, newBus(dc([]uint16{0x49}, 0, 0, 1.2, 0)), o).run(100 * time.Millisecond)
		require.Equal(t, frame.OutOfBand, all[0].Sample.Status)
		require.Zero(t, all[0].Sample.Value)
		require.Contains(t, all[0].Note, "wrong scale")
	})
}

var sinkResult convert.Result

// BenchmarkChain is what one code costs from the chip's register to the value.
func BenchmarkChain(b *testing.B) {
	o := trailer(3)
	o.Bus = newBus(nil)
	d, err := New(o)
	require.NoError(b, err)
	d.post = func(sensors.Reading) {}
	for _, in := range d.inputs {
		if in.opt.current() {
			continue
		}
		b.Run(in.opt.Name, func(b *testing.B) {
			b.ReportAllocs()
			d.inputs[0].note(20000, 0)
			for b.Loop() {
				sinkResult = in.convert(10000, d.reference(in, 0))
			}
		})
	}
}

func TestChainAllocatesNothing(t *testing.T) {
	o := trailer(3)
	o.Bus = newBus(nil)
	d, err := New(o)
	require.NoError(t, err)
	d.post = func(r sensors.Reading) { require.Equal(t, frame.Good, r.Sample.Status, r.Note) }
	for i, code := range []int16{20000, 10000, 13200} { // 5 V, half of it, half of 3.3 V
		in, at := d.inputs[i], time.Duration(0)
		require.Zero(t, testing.AllocsPerRun(50, func() { at += time.Millisecond; d.reading(in, code, at) }), in.opt.Name)
	}
}
