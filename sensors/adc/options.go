package adc

import (
	"time"

	"periph.io/x/conn/v3/i2c"

	"headroom/rules/frame"
	"headroom/sensors/convert"
)

// NoChannel is the Channel of an input that is measured for other inputs only,
// such as a transducer's supply.
const NoChannel = frame.NumChannels

// Options describe the converters on one bus.
type Options struct {
	// Bus is the I2C bus; the driver doesn't close it. No other driver may use
	// it in a way that a transfer could wait long for.
	Bus i2c.Bus
	// Name is used in logs; "" means "adc".
	Name string
	// Chips are the converters, 1 to 4.
	Chips []Chip
	// Period is the time of one scan over all inputs, 10 ms to 10 s; 0 means
	// 100 ms.
	Period time.Duration
	// BusHz is the clock that the bus really runs at, 10 kHz to 1 MHz; 0 means
	// 100 kHz. It is not set here: Linux takes it from the device tree.
	BusHz float64
	// Overhead is what one transfer costs beside its bits, 0 to 5 ms; 0 means
	// 100 us.
	Overhead time.Duration
	// Margin is added to each conversion's time, 0 to 10 ms; 0 means 100 us.
	Margin time.Duration
	// MainsHz is 50 or 60 (45 to 66); needed with a current block. A generator
	// that is 2 Hz off costs a block of ten cycles up to 0.4 % of its RMS.
	MainsHz float64
	// Timeout bounds one transfer, 10 ms to 5 s; 0 means 250 ms.
	Timeout time.Duration

	// nap sleeps precisely for a few milliseconds at most.
	nap func(time.Duration)
}

// Chip is one converter.
type Chip struct {
	// Addr is 0x48 to 0x4b, by the pin ADDR.
	Addr uint16
	// SupplyV is the chip's own supply, 2.0 to 5.5 V; 0 means 3.3 V. No pin
	// may go above it.
	SupplyV float64
	// Continuous lets the chip convert all the time; for a single input only.
	// A chip whose only input is a block is continuous anyway.
	Continuous bool
	// Inputs are 1 to 4, of which at most one with a Block.
	Inputs []Input
}

// Input is one input of a chip and the chain from its code to a value.
type Input struct {
	// Name tells the input in errors and statistics; unique on the bus.
	Name string
	// Mux, Range and Rate are the chip's settings for it.
	Mux   Mux
	Range Range
	Rate  Rate
	// Attenuation is the voltage at the terminals by that at the pin, for a
	// divider ahead of the chip; 0 means 1, up to 100.
	Attenuation float64
	// Convert makes the value of the voltage; nil with Block.Transformer.
	Convert convert.Converter
	// Reference names the input that measures this one's supply.
	Reference string
	// Channel takes the value; NoChannel for none.
	Channel frame.Channel
	// Block samples the input in blocks.
	Block *Block
}

// Block is the fast mode of an input: evenly spaced samples, as many per
// second as the chip's Rate, which should be SPS860.
//
// What counts: half of the sample rate is the limit, 430 Hz, that is the 8th
// harmonic of 50 Hz and the 7th of 60 Hz. The chip averages over each
// conversion, which takes 0.8 % off at 60 Hz, 7 % off at 180 Hz and 19 % at 300
// Hz (convert.FilterGain), and it is the only filter there is: what lies above
// 430 Hz is folded down, weakened. A motor's current has little there; a
// drive's or a welder's has much, and needs a filter ahead of the input.
type Block struct {
	// Transformer makes it a current: true RMS over whole mains cycles, which
	// is posted on Input.Channel.
	Transformer *convert.Transformer
	// Cycles is the number of mains cycles in a block of a current, 1 to 60; 0
	// means 10.
	Cycles int
	// Pulsation is the channel for the RMS of the fast part of a quantity
	// without Transformer; its mean is posted on Input.Channel.
	Pulsation frame.Channel
	// Length is the time of a block without Transformer, 50 ms to 10 s; 0
	// means 500 ms.
	Length time.Duration
}

// The defaults of Options.
const (
	defaultPeriod   = 100 * time.Millisecond
	defaultBusHz    = 100e3
	defaultOverhead = 100 * time.Microsecond
	defaultMargin   = 100 * time.Microsecond
	defaultTimeout  = 250 * time.Millisecond
	defaultSupplyV  = 3.3
	defaultCycles   = 10
	defaultLength   = 500 * time.Millisecond
)

func or[T comparable](x, instead T) T {
	var zero T
	if x == zero {
		return instead
	}
	return x
}

// withDefaults returns a copy with every default in place, which shares
// nothing that New changes with the caller.
func (o Options) withDefaults() Options {
	o.Name = or(o.Name, "adc")
	o.Period = or(o.Period, defaultPeriod)
	o.BusHz = or(o.BusHz, defaultBusHz)
	o.Overhead = or(o.Overhead, defaultOverhead)
	o.Margin = or(o.Margin, defaultMargin)
	o.Timeout = or(o.Timeout, defaultTimeout)
	if o.nap == nil {
		o.nap = nap
	}
	chips := append([]Chip(nil), o.Chips...)
	for i := range chips {
		c := &chips[i]
		c.SupplyV = or(c.SupplyV, defaultSupplyV)
		c.Inputs = append([]Input(nil), c.Inputs...)
		for k := range c.Inputs {
			c.Inputs[k] = c.Inputs[k].withDefaults()
		}
	}
	o.Chips = chips
	return o
}

func (in Input) withDefaults() Input {
	in.Attenuation = or(in.Attenuation, 1)
	if in.Block != nil {
		b := *in.Block
		b.Cycles = or(b.Cycles, defaultCycles)
		b.Length = or(b.Length, defaultLength)
		in.Block = &b
	}
	return in
}

// current reports that the input is a current transformer's.
func (in Input) current() bool { return in.Block != nil && in.Block.Transformer != nil }

// posts lists the channels that an input feeds.
func (in Input) posts() []frame.Channel {
	var out []frame.Channel
	if in.Channel < NoChannel {
		out = append(out, in.Channel)
	}
	if in.Block != nil && !in.current() && in.Block.Pulsation < NoChannel {
		out = append(out, in.Block.Pulsation)
	}
	return out
}

// inputV is the range of voltages at the terminals that must be measurable.
func (in Input) inputV() (lo, hi float64) {
	if in.current() {
		return in.Block.Transformer.InputV()
	}
	return in.Convert.InputV()
}
