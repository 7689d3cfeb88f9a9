package adc

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// maxBusShare is how much of the bus's time the schedule may take: the rest is
// for polls that come too early and for other parts on the bus.
const maxBusShare = 0.8

// Budget is the time that a scan takes, as computed by New.
type Budget struct {
	// Chip is the time in which each chip is through, in the order of Options.
	Chip []time.Duration
	// Bus is the time for which the bus is busy in one period.
	Bus time.Duration
	// Period is the scan period they must fit.
	Period time.Duration
}

// writeTime and readTime are what a transfer takes on the bus.
func (o Options) writeTime() time.Duration { return o.transferTime(bytesWrite) }
func (o Options) readTime() time.Duration  { return o.transferTime(bytesRead) }

func (o Options) transferTime(bytes int) time.Duration {
	return seconds(float64(bytes*bitsPerByte+bitsStartStops)/o.BusHz) + o.Overhead
}

// settle is how long to wait for one conversion: its nominal time, the
// tolerance of the chip's clock, and the margin.
func (o Options) settle(r Rate) time.Duration {
	return seconds((1+rateTolerance)/r.Hz()) + o.Margin
}

// warmUp is how long to wait after a change to or from continuous mode: one
// conversion may still be of the old settings.
func (o Options) warmUp(r Rate) time.Duration {
	return seconds(2*(1+rateTolerance)/r.Hz()) + o.Margin
}

// samples is the number of samples in a block: what the cycles need, one more
// for the last interval and two for a slow clock.
func (o Options) samples(in Input) int {
	span := in.Block.Length.Seconds()
	if in.current() {
		span = float64(in.Block.Cycles) / o.MainsHz
	}
	return int(math.Ceil(span*in.Rate.Hz())) + 3
}

// alone reports that a chip has one input and converts it all the time.
func (c Chip) alone() bool {
	return len(c.Inputs) == 1 && (c.Continuous || c.Inputs[0].Block != nil)
}

// cost is the time that a chip is busy and its transfers, in one period. A
// conversion has a write, a poll and a code, and with a code of 0 a check.
func (o Options) cost(c Chip) (busy, bus time.Duration, transfers int) {
	w, r := o.writeTime(), o.readTime()
	for _, in := range c.Inputs {
		switch {
		case in.Block == nil && c.alone():
			busy, bus, transfers = busy+3*r, bus+3*r, transfers+3
		case in.Block == nil:
			busy, bus, transfers = busy+w+o.settle(in.Rate)+3*r, bus+w+3*r, transfers+4
		case c.alone():
			n := o.Period.Seconds() * in.Rate.Hz()
			bus += time.Duration(n * float64(r))
		default:
			n := o.samples(in)
			busy += 2*w + 2*r + o.warmUp(in.Rate) + o.settle(in.Rate) + time.Duration(n)*in.Rate.conversion()
			bus += 2*w + time.Duration(n+2)*r
			transfers += 4
		}
	}
	return busy, bus, transfers
}

// budget computes the time of a scan. Each transfer of a chip may have to wait
// for one of every other chip.
func (o Options) budget() Budget {
	b := Budget{Period: o.Period}
	for _, c := range o.Chips {
		busy, bus, transfers := o.cost(c)
		wait := time.Duration(transfers*(len(o.Chips)-1)) * o.readTime()
		b.Chip = append(b.Chip, busy+wait)
		b.Bus += bus
	}
	return b
}

// checkBudget says which chip or whether the bus can't keep the period, and
// what would fit.
func (o Options) checkBudget() (Budget, error) {
	b := o.budget()
	for i, c := range o.Chips {
		if b.Chip[i] > o.Period {
			return b, fmt.Errorf("%s: a scan of its %d inputs takes %v and the period is %v: %s",
				addrWords(c.Addr), len(c.Inputs), ms(b.Chip[i]), o.Period, o.fits(i, b.Chip[i]))
		}
	}
	if limit := time.Duration(maxBusShare * float64(o.Period)); b.Bus > limit {
		return b, fmt.Errorf("the bus at %v Hz would be busy for %v of each %v, and %v are what can be used: set the bus to 400 kHz (and the bus clock here), make the period longer or move a converter to another bus",
			o.BusHz, ms(b.Bus), o.Period, ms(limit))
	}
	return b, o.checkGaps()
}

// checkGaps makes sure that a transfer of another chip fits between two
// samples of a block, with a tenth to spare.
func (o Options) checkGaps() error {
	if len(o.Chips) < 2 {
		return nil
	}
	for _, c := range o.Chips {
		for _, in := range c.Inputs {
			if in.Block == nil || 2*o.readTime() <= in.Rate.conversion()*9/10 {
				continue
			}
			return fmt.Errorf("%s: input %q is sampled every %v, which leaves no room for a transfer of another converter (%v each): set the bus to 400 kHz (and the bus clock here), or give it a bus of its own",
				addrWords(c.Addr), in.Name, in.Rate.conversion(), o.readTime())
		}
	}
	return nil
}

// fits lists what would make chip i fit.
func (o Options) fits(i int, took time.Duration) string {
	ways := []string{fmt.Sprintf("a period of %v fits", took.Round(time.Millisecond)+time.Millisecond)}
	if w := o.cyclesThatFit(i); w != "" {
		ways = append(ways, w)
	}
	if w := o.rateThatFits(i); w != "" {
		ways = append(ways, w)
	}
	if len(o.Chips[i].Inputs) > 1 {
		ways = append(ways, "or move an input to a converter of its own")
	}
	return strings.Join(ways, ", ")
}

// with returns the options with the inputs of chip i changed.
func (o Options) with(i int, change func(*Input)) Options {
	p := o.withDefaults()
	for k := range p.Chips[i].Inputs {
		change(&p.Chips[i].Inputs[k])
	}
	return p
}

func (o Options) cyclesThatFit(i int) string {
	most := 0
	for _, in := range o.Chips[i].Inputs {
		if in.current() {
			most = in.Block.Cycles
		}
	}
	for n := most - 1; n >= 1; n-- {
		p := o.with(i, func(in *Input) {
			if in.current() {
				in.Block.Cycles = n
			}
		})
		if p.budget().Chip[i] <= o.Period {
			return fmt.Sprintf("blocks of %d mains cycles fit", n)
		}
	}
	return ""
}

func (o Options) rateThatFits(i int) string {
	for _, r := range []Rate{SPS16, SPS32, SPS64, SPS128, SPS250, SPS475, SPS860} {
		p := o.with(i, func(in *Input) {
			if in.Block == nil && in.Rate.Hz() < r.Hz() {
				in.Rate = r
			}
		})
		if p.budget().Chip[i] <= o.Period {
			return fmt.Sprintf("a rate of %v and more fits", r.Hz())
		}
	}
	return ""
}

func ms(d time.Duration) time.Duration { return d.Round(100 * time.Microsecond) }
