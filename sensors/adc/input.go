package adc

import (
	"time"

	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/convert"
)

// input is one input while the driver runs.
type input struct {
	opt   Input
	stepV float64 // terminal volts per code
	word  uint16  // single-shot settings
	cont  uint16  // continuous settings
	ref   int     // index of the reference in Driver.inputs, -1 for none
	hold  convert.Hold

	last struct {
		volt float64
		code int16
		ok   bool // volt was measured and isn't at the range's end
		seen bool
		at   time.Duration
	}
	stats Stats
}

func newInput(o Input, c Chip) *input {
	return &input{
		opt: o, stepV: o.Range.StepV() * o.Attenuation,
		word:  config(o.Mux, o.Range, o.Rate, true),
		cont:  config(o.Mux, o.Range, o.Rate, false),
		stats: Stats{Input: o.Name, Chip: c.Addr},
	}
}

// saturated reports a code at either end of the range, which is a fault and
// no value.
func saturated(code int16) bool { return code == saturatedHigh || code == saturatedLow }

// volt returns the voltage at the terminals; it may be a little negative on a
// single-ended input.
func (in *input) volt(code int16) float64 { return float64(code) * in.stepV }

// convert is the chain from a code to a value.
func (in *input) convert(code int16, s convert.Signal) convert.Result {
	s.VoltV = in.volt(code)
	if saturated(code) {
		return convert.Result{Status: frame.Failed, Reason: convert.Saturated, Signal: s.VoltV, Unit: convert.UnitVolt}
	}
	return in.opt.Convert.Convert(s)
}

// note remembers a code for those who use this input as their reference.
func (in *input) note(code int16, at time.Duration) (repeat bool) {
	l := &in.last
	repeat = l.seen && l.code == code
	l.volt, l.code, l.ok, l.seen, l.at = in.volt(code), code, !saturated(code), true, at
	return repeat
}

// reference returns the supply of an input, if it was measured and is no older
// than two scans.
func (d *Driver) reference(in *input, at time.Duration) convert.Signal {
	if in.ref < 0 {
		return convert.Signal{}
	}
	r := &d.inputs[in.ref].last
	return convert.Signal{RefV: r.volt, RefOK: r.ok && at-r.at <= 2*d.opt.Period}
}

// publish posts a result for a channel, with the reason in words.
func (d *Driver) publish(c frame.Channel, r convert.Result, at time.Duration) {
	if c >= NoChannel {
		return
	}
	if lo, hi := c.Believable(); r.Status == frame.Good && !(r.Value >= lo && r.Value <= hi) {
		r.Status, r.Reason, r.Value = frame.OutOfBand, convert.Unbelievable, 0
	}
	out := sensors.Reading{Channel: c, Sample: frame.Sample{Value: r.Value, Status: r.Status}, At: at}
	if r.Status != frame.Good {
		out.Note = r.Words()
	}
	d.post(out)
}

// fail posts a fault for everything that an input feeds, and forgets the
// voltage, so that nobody takes it as a reference.
func (d *Driver) fail(in *input, at time.Duration, note string) {
	in.last.ok = false
	for _, c := range in.opt.posts() {
		d.post(sensors.Reading{Channel: c, Sample: frame.Sample{Status: frame.Failed}, At: at, Note: note})
	}
}
