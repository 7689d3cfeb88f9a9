package adc

import (
	"context"
	"errors"
	"math"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/physic"

	"headroom/rules/frame"
	"headroom/sensors"
)

// modelChip behaves as the data sheet's converter does at its registers.
type modelChip struct {
	rate   float64 // of its clock against nominal: 0.9 to 1.1
	volt   func(pin int, t float64) float64
	dead   bool // doesn't answer
	frozen bool // never ends a conversion

	cfg     uint16
	code    int16
	began   time.Duration // of the conversion under way
	busy    bool
	old     uint16 // settings of the conversion under way
	flavour int    // resets so far
}

// modelBus is a bus with such chips. Tx takes the time of its bits.
type modelBus struct {
	mu    sync.Mutex
	t0    time.Time
	hz    float64
	chips map[uint16]*modelChip
	hang  chan struct{} // not nil: Tx waits until it is closed
	lag   func() time.Duration
	calls int
}

var errNoAnswer = errors.New("no such device or address")

func (b *modelBus) String() string                    { return "model" }
func (b *modelBus) SetSpeed(_ physic.Frequency) error { return errors.New("not here") }
func (b *modelBus) now() time.Duration                { return time.Since(b.t0) }

func (b *modelBus) Tx(addr uint16, w, r []byte) error {
	b.mu.Lock()
	hang, lag := b.hang, b.lag
	b.calls++
	b.mu.Unlock()
	if hang != nil {
		<-hang
		return errors.New("input/output error")
	}
	bytes := len(w) + 1
	if len(r) > 0 {
		bytes += len(r) + 1
	}
	time.Sleep(time.Duration(float64(bytes*9+3) / b.hz * 1e9))
	if lag != nil {
		time.Sleep(lag())
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	c := b.chips[addr]
	if c == nil || c.dead {
		return errNoAnswer
	}
	c.advance(b.now())
	return c.tx(b.now(), w, r)
}

func (c *modelChip) tx(now time.Duration, w, r []byte) error {
	if len(w) == 3 && w[0] == regConfig {
		c.write(now, uint16(w[1])<<8|uint16(w[2]))
		return nil
	}
	if len(w) != 1 || len(r) != 2 {
		return errors.New("a transfer that the model doesn't know")
	}
	v := uint16(c.code)
	if w[0] == regConfig {
		v = c.cfg &^ bitOS
		if !c.busy {
			v |= bitOS
		}
	}
	r[0], r[1] = byte(v>>8), byte(v)
	return nil
}

func (c *modelChip) write(now time.Duration, w uint16) {
	single := w&bitSingleShot != 0
	c.cfg = w &^ bitOS
	if c.busy { // the conversion under way ends with the settings it began with
		return
	}
	if !single || w&bitOS != 0 {
		c.busy, c.began, c.old = true, now, c.cfg
	}
}

// advance ends the conversions that are over by now.
func (c *modelChip) advance(now time.Duration) {
	for c.busy && !c.frozen {
		span := time.Duration(1e9 / (rateOf(c.old) * c.rate))
		end := c.began + span
		if end > now {
			return
		}
		c.code = c.convert(c.began, span)
		c.busy = false
		if c.cfg&bitSingleShot == 0 {
			c.busy, c.began, c.old = true, end, c.cfg
		}
	}
}

func rateOf(cfg uint16) float64 {
	return map[uint16]float64{0: 8, 1: 16, 2: 32, 3: 64, 4: 128, 5: 250, 6: 475, 7: 860}[cfg>>5&7]
}

// convert averages the input over the conversion, in four points.
func (c *modelChip) convert(began, span time.Duration) int16 {
	full := map[uint16]float64{0: 6.144, 1: 4.096, 2: 2.048, 3: 1.024, 4: 0.512}[c.old>>9&7]
	if full == 0 {
		full = 0.256
	}
	at := func(t float64) float64 {
		switch m := c.old >> 12 & 7; m {
		case 0:
			return c.volt(0, t) - c.volt(1, t)
		case 3:
			return c.volt(2, t) - c.volt(3, t)
		default:
			return c.volt(int(m)-4, t)
		}
	}
	sum := 0.0
	for k := range 4 {
		sum += at(began.Seconds() + (float64(k)+0.5)/4*span.Seconds())
	}
	return int16(math.Max(-32768, math.Min(32767, math.Round(sum/4/full*32768))))
}

// brownOut resets the chip, as a dip of its supply does.
func (c *modelChip) brownOut() {
	c.cfg, c.code, c.busy, c.flavour = resetConfig&^bitOS, 0, false, c.flavour+1
}

// rig runs a driver on a model, inside a synctest bubble.
type rig struct {
	t    *testing.T
	bus  *modelBus
	d    *Driver
	mu   sync.Mutex
	got  []sensors.Reading
	stop context.CancelFunc
	err  chan error
}

func newBus(chips map[uint16]*modelChip) *modelBus {
	for _, c := range chips {
		c.cfg = resetConfig &^ bitOS
		if c.rate == 0 {
			c.rate = 1
		}
	}
	return &modelBus{t0: time.Now(), hz: 400e3, chips: chips}
}

func newRig(t *testing.T, bus *modelBus, opt Options) *rig {
	opt.Bus, opt.BusHz, opt.nap = bus, 400e3, time.Sleep
	d, err := New(opt)
	require.NoError(t, err)
	return &rig{t: t, bus: bus, d: d}
}

func (r *rig) start() {
	ctx, stop := context.WithCancel(context.Background())
	r.stop, r.err = stop, make(chan error, 1)
	go func() { r.err <- r.d.Run(ctx, r.bus.now, r.take) }()
}

func (r *rig) take(x sensors.Reading) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.got = append(r.got, x)
}

// end stops the driver and returns its readings.
func (r *rig) end() []sensors.Reading {
	r.stop()
	require.NoError(r.t, <-r.err)
	synctest.Wait()
	return r.got
}

// run runs the driver for span.
func (r *rig) run(span time.Duration) []sensors.Reading {
	r.start()
	time.Sleep(span)
	return r.end()
}

func of(all []sensors.Reading, c frame.Channel) (out []sensors.Reading) {
	for _, x := range all {
		if x.Channel == c {
			out = append(out, x)
		}
	}
	return out
}

func byName(t *testing.T, all []Stats, name string) Stats {
	for _, s := range all {
		if s.Input == name {
			return s
		}
	}
	t.Fatalf("no statistics of %q", name)
	return Stats{}
}
