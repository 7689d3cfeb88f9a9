package adc

import (
	"time"

	"headroom/rules/circuit"
	"headroom/rules/frame"
	"headroom/sensors/convert"
)

// block is an input that is sampled fast. The samples are paced by the
// computer's clock and not by the chip's, which may be 10 % off: a slow chip
// then gives some codes twice and a fast one has some skipped. For an RMS over
// several cycles neither matters, and the rate that counts is the measured one.
type block struct {
	in      *input
	samples []float64
	times   []time.Duration // of the samples
	n       int

	ref       convert.Signal
	repeats   int
	saturated bool
	bad       convert.Result // the first sample that isn't good
	uneven    int            // blocks in a row
}

func newBlock(in *input, o Options) *block {
	n := o.samples(in.opt)
	return &block{in: in, samples: make([]float64, n), times: make([]time.Duration, n)}
}

func (b *block) clear(ref convert.Signal) {
	b.n, b.repeats, b.saturated, b.bad, b.ref = 0, 0, false, convert.Result{}, ref
}

// A block is even when each sample is near to its place on an even grid from
// the first to the last: within a hundredth of the block and within one
// conversion. That keeps the error of an RMS over whole cycles to about 1 %: a
// window that is off by a share e is off by up to 2e in its mean square.
const maxOff = 0.01

// even reports whether the block may be treated as evenly sampled.
func (b *block) even() bool {
	first, span := b.times[0], b.span()
	limit := min(time.Duration(maxOff*float64(span)), b.in.opt.Rate.conversion())
	for i, t := range b.times[:b.n] {
		place := first + time.Duration(float64(i)/float64(b.n-1)*float64(span))
		if off := t - place; off > limit || off < -limit {
			return false
		}
	}
	return true
}

func (b *block) span() time.Duration { return b.times[b.n-1] - b.times[0] }

// blockStep makes a step of a block.
func (d *Driver) blockStep(l *lane) error {
	b := l.block
	switch l.phase {
	case blockStart:
		l.phase, l.due = blockCheck, d.clock()+d.opt.warmUp(b.in.opt.Rate)
		return d.line.write(l.addr, b.in.cont)
	case sampling:
		return d.sample(l)
	case blockStop:
		// Without the bit that begins, single-shot mode puts the chip to rest.
		err := d.line.write(l.addr, b.in.word)
		if err == nil {
			d.forward(l)
			l.due = max(l.due, d.clock()+d.opt.settle(b.in.opt.Rate))
		}
		return err
	}
	w, err := d.line.read(l.addr, regConfig)
	if err != nil {
		return err
	}
	if w&settingsMask != b.in.cont {
		d.count(b.in, func(s *Stats) { s.Resets++ })
		d.again(l, b.in, lostWords(l, w, b.in.cont))
		return nil
	}
	if l.phase == blockVerify {
		d.finish(l)
	}
	d.proceed(l)
	return nil
}

// proceed goes from a good check to the samples, or from the last one on.
func (d *Driver) proceed(l *lane) {
	if l.phase == blockVerify && !l.alone {
		l.phase, l.due = blockStop, d.clock()
		return
	}
	// A chip of its own goes on without a break. A lost block keeps its count
	// of tries until one is whole.
	if l.phase == blockVerify {
		l.tries = 0
	}
	l.down = false
	l.block.clear(d.reference(l.block.in, d.clock()))
	l.phase, l.due = sampling, max(d.clock(), l.block.in.last.at+l.block.in.opt.Rate.conversion())
}

// sample takes one code of the block.
func (d *Driver) sample(l *lane) error {
	b, now := l.block, d.clock()
	w, err := d.line.read(l.addr, regConversion)
	if err != nil {
		return err
	}
	b.add(int16(w), now)
	every := b.in.opt.Rate.conversion()
	// A late sample is followed by the next in its place, but never at once.
	l.due = max(l.due+every, now+every/2)
	if b.n == len(b.samples) {
		l.phase, l.due = blockVerify, d.clock()
	}
	return nil
}

// add stores a sample in A for a transformer, else in the channel's unit.
func (b *block) add(code int16, now time.Duration) {
	b.times[b.n] = now
	if b.in.note(code, now) {
		b.repeats++
	}
	b.saturated = b.saturated || saturated(code)
	if b.in.opt.current() {
		b.samples[b.n] = b.in.opt.Block.Transformer.SampleA(b.in.volt(code))
	} else {
		r := b.in.convert(code, b.ref)
		if r.Status != frame.Good && b.bad.Reason == convert.OK {
			b.bad = r
		}
		b.samples[b.n] = r.Value
	}
	b.n++
}

// rateHz is the measured rate.
func (b *block) rateHz() float64 { return float64(b.n-1) / b.span().Seconds() }

// finish judges a whole block and posts it.
func (d *Driver) finish(l *lane) {
	b := l.block
	at := b.times[0] + b.span()/2
	uneven := !b.even()
	d.count(b.in, func(s *Stats) { s.sampled(b, uneven) })
	if uneven {
		if b.uneven++; b.uneven < maxUneven {
			return
		}
		for _, c := range b.in.opt.posts() {
			d.publish(c, convert.Result{Status: frame.Failed, Reason: convert.Uneven}, at)
		}
		return
	}
	b.uneven = 0
	if b.in.opt.current() {
		d.finishCurrent(b, at)
	} else {
		d.finishPulsation(b, at)
	}
}

func (d *Driver) finishCurrent(b *block, at time.Duration) {
	w := circuit.RMS(b.samples[:b.n], b.rateHz(), d.opt.MainsHz)
	d.count(b.in, func(s *Stats) { s.Wave = w })
	r := b.in.opt.Block.Transformer.Judge(w)
	if b.saturated && r.Reason != convert.OverRange { // both ends clipped alike are a current
		r = convert.Result{Status: frame.Failed, Reason: convert.Saturated}
	}
	d.publish(b.in.opt.Channel, r, at)
}

func (d *Driver) finishPulsation(b *block, at time.Duration) {
	p, ok := convert.Pulsation(b.samples[:b.n])
	switch {
	case b.bad.Reason != convert.OK:
		bad := b.in.hold.Judge(b.bad, at, convert.DefaultHold)
		d.publish(b.in.opt.Channel, bad, at)
		d.publish(b.in.opt.Block.Pulsation, bad, at)
		return
	case !ok:
		p = convert.Pulse{}
	}
	b.in.hold.Judge(convert.Result{}, at, convert.DefaultHold)
	d.count(b.in, func(s *Stats) { s.Pulse = p })
	d.publish(b.in.opt.Channel, result(p.Mean, ok), at)
	d.publish(b.in.opt.Block.Pulsation, result(p.RMS, ok), at)
}

func result(value float64, ok bool) convert.Result {
	if !ok {
		return convert.Result{Status: frame.Failed, Reason: convert.NoNumber}
	}
	return convert.Result{Value: value, Status: frame.Good}
}
