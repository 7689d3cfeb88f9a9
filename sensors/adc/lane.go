package adc

import (
	"fmt"
	"time"
)

// phase is what a chip's next transfer is for.
type phase uint8

const (
	// Single shot: begin a conversion, see that it has ended, take its code.
	begin phase = iota
	poll
	take
	// Continuous: set the chip going, check its settings, take a code.
	start
	check
	fetch
	// Either: a code of 0 is what a chip gives that was reset between the check
	// and the code, so check again.
	confirm
	// Block: set going, check, sample, check again, stop.
	blockStart
	blockCheck
	sampling
	blockVerify
	blockStop
)

// The bounds of patience.
const (
	// maxPolls is how often an unfinished conversion is asked again, each a
	// tenth of a conversion later: it may take twice its time.
	maxPolls = 10
	// maxTries is how often a conversion is begun before it is a fault. One
	// disturbed transfer, as a starting motor makes, costs no reading.
	maxTries = 2
	// maxUneven is how many blocks in a row may be uneven before the channel
	// says so.
	maxUneven = 3
)

// lane is one chip while the driver runs: a state machine that makes one
// transfer at a time, when it is due.
type lane struct {
	addr  uint16
	alone bool // one input, converted all the time
	slow  []*input
	block *block

	phase   phase
	due     time.Duration
	scan    time.Duration // when the present scan should have begun
	started time.Duration // when the present conversion did
	index   int           // of the present input in slow
	polls   int
	tries   int
	taken   time.Duration // the time of a code of 0 that is to be confirmed
	down    bool          // the chip doesn't answer
}

func (l *lane) reset(now time.Duration) {
	l.scan, l.due, l.index, l.polls, l.tries, l.down = now, now, 0, 0, 0, false
	if l.block != nil {
		l.block.uneven = 0
	}
	l.phase = l.first()
}

// first is the phase with which a scan begins.
func (l *lane) first() phase {
	switch {
	case len(l.slow) == 0:
		return blockStart
	case l.alone:
		return start
	}
	return begin
}

// present is the input that the lane is about.
func (l *lane) present() *input {
	if l.index < len(l.slow) {
		return l.slow[l.index]
	}
	return l.block.in
}

// step makes the lane's next transfer. An error is one of the bus, after the
// lane has dealt with it.
func (d *Driver) step(l *lane) error {
	var err error
	switch l.phase {
	case begin, poll, take:
		err = d.single(l)
	case start, check, fetch:
		err = d.continuous(l)
	case confirm:
		err = d.confirm(l)
	default:
		err = d.blockStep(l)
	}
	if err != nil {
		d.broken(l, err)
	}
	return err
}

// single makes a step of a single-shot conversion.
func (d *Driver) single(l *lane) error {
	in := l.present()
	switch l.phase {
	case begin:
		l.started = d.clock()
		l.phase, l.polls, l.due = poll, 0, l.started+d.opt.settle(in.opt.Rate)
		return d.line.write(l.addr, in.word|bitOS)
	case poll:
		w, err := d.line.read(l.addr, regConfig)
		if err == nil {
			d.judgePoll(l, in, w)
		}
		return err
	default:
		w, err := d.line.read(l.addr, regConversion)
		if err == nil {
			d.accept(l, in, int16(w), l.started+in.opt.Rate.conversion()/2)
		}
		return err
	}
}

// judgePoll decides by the config register: settings lost, not yet, or done.
func (d *Driver) judgePoll(l *lane, in *input, w uint16) {
	switch {
	case w&settingsMask != in.word:
		d.count(in, func(s *Stats) { s.Resets++ })
		d.again(l, in, lostWords(l, w, in.word))
	case w&bitOS != 0:
		l.phase, l.due = take, d.clock()
	case l.polls >= maxPolls:
		d.count(in, func(s *Stats) { s.Endless++ })
		d.again(l, in, fmt.Sprintf("%s doesn't end its conversion of %s: power it off and on", addrWords(l.addr), in.opt.Mux))
	default:
		l.polls++
		l.due = d.clock() + in.opt.Rate.conversion()/10
	}
}

func lostWords(l *lane, got, want uint16) string {
	if got == resetConfig || got == resetConfig&settingsMask {
		return addrWords(l.addr) + " lost its settings: its supply dips"
	}
	return fmt.Sprintf("%s has settings %04x instead of %04x: its supply dips, or another program uses it", addrWords(l.addr), got&settingsMask, want)
}

// again begins the present conversion once more, or gives it up for this scan.
func (d *Driver) again(l *lane, in *input, why string) {
	l.tries++
	l.due = d.clock() + d.opt.Margin
	if l.tries < maxTries {
		l.phase = l.beginning()
		return
	}
	d.fail(in, d.clock(), why)
	d.forward(l)
}

// beginning is the phase that begins the present input.
func (l *lane) beginning() phase {
	switch {
	case l.index >= len(l.slow):
		return blockStart
	case l.alone:
		return start
	}
	return begin
}

// forward goes to the next input, or to the next scan.
func (d *Driver) forward(l *lane) {
	l.tries, l.down = 0, false
	l.index++
	l.due = d.clock()
	if l.index < len(l.slow) || l.index == len(l.slow) && l.block != nil {
		l.phase = l.beginning()
		return
	}
	l.index, l.phase = 0, l.first()
	d.nextScan(l)
}

// nextScan sets when the next scan is due, and counts one that is late.
func (d *Driver) nextScan(l *lane) {
	l.scan += d.opt.Period
	if now := d.clock(); now > l.scan {
		if now > l.scan+d.opt.Period/10 {
			d.count(l.present(), func(s *Stats) { s.Late++ })
		}
		l.scan = now
	}
	l.due = l.scan
}

// broken deals with a transfer that failed: once more, and then the chip is
// down until the next scan.
func (d *Driver) broken(l *lane, err error) {
	d.count(l.present(), func(s *Stats) { s.Errors++ })
	l.tries++
	if l.tries < maxTries && !l.down {
		l.phase, l.due = l.beginning(), d.clock()+d.opt.Margin
		return
	}
	note := fmt.Sprintf("cannot reach %s: %v: check its wires, supply and address", addrWords(l.addr), err)
	for _, in := range l.slow {
		d.fail(in, d.clock(), note)
	}
	if l.block != nil {
		d.fail(l.block.in, d.clock(), note)
	}
	l.down, l.tries, l.index, l.phase = true, 0, 0, l.first()
	d.nextScan(l)
}
