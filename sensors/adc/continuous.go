package adc

import (
	"time"

	"headroom/rules/frame"
	"headroom/sensors/convert"
)

// continuous makes a step of a chip that converts one input all the time.
func (d *Driver) continuous(l *lane) error {
	in := l.present()
	switch l.phase {
	case start:
		l.phase, l.due = check, d.clock()+d.opt.warmUp(in.opt.Rate)
		return d.line.write(l.addr, in.cont)
	case check:
		w, err := d.line.read(l.addr, regConfig)
		if err != nil {
			return err
		}
		l.phase, l.due = fetch, d.clock()
		if w&settingsMask != in.cont {
			d.count(in, func(s *Stats) { s.Resets++ })
			d.again(l, in, lostWords(l, w, in.cont))
		}
		return nil
	default:
		w, err := d.line.read(l.addr, regConversion)
		if err == nil {
			// The code is that of the conversion that ended last.
			d.accept(l, in, int16(w), max(d.clock()-in.opt.Rate.conversion(), 0))
		}
		return err
	}
}

// reading converts and posts one code.
func (d *Driver) reading(in *input, code int16, at time.Duration) {
	before, seen := in.last.at, in.last.seen
	repeat := in.note(code, at)
	d.count(in, func(s *Stats) { s.converted(repeat, saturated(code), at-before, seen) })
	r := in.hold.Judge(in.convert(code, d.reference(in, at)), at, convert.DefaultHold)
	if r.Reason == convert.NoReference && !d.inputs[in.ref].last.seen {
		r.Status = frame.Missing // the first scan of another chip isn't through yet
	}
	d.publish(in.opt.Channel, r, at)
}

// accept takes a code, or has the settings checked once more first.
func (d *Driver) accept(l *lane, in *input, code int16, at time.Duration) {
	if code == 0 {
		l.phase, l.due, l.taken = confirm, d.clock(), at
		return
	}
	d.reading(in, code, at)
	d.onward(l)
}

// onward goes on after a good code: a chip that converts all the time isn't
// set going again.
func (d *Driver) onward(l *lane) {
	d.forward(l)
	if l.alone {
		l.phase = check
	}
}

// confirm accepts a code of 0 if the chip still has its settings.
func (d *Driver) confirm(l *lane) error {
	in := l.present()
	want := in.word
	if l.alone {
		want = in.cont
	}
	w, err := d.line.read(l.addr, regConfig)
	switch {
	case err != nil:
		return err
	case w&settingsMask != want:
		d.count(in, func(s *Stats) { s.Resets++ })
		d.again(l, in, lostWords(l, w, want))
	default:
		d.reading(in, 0, l.taken)
		d.onward(l)
	}
	return nil
}
