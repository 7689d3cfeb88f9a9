package review

import (
	"time"

	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/units"
)

// tellStart tells of the beginning and of what the run worked with.
func (t *teller) tellStart() {
	h := &t.head
	if h.ID.N == 0 {
		t.add(h.From, h.From, say(KindStart, "The account of "+t.subject()+" begins here.").rests(t.here(h.From)))
		return
	}
	s := say(KindStart, "Run "+h.ID.String()+" of "+t.subject()+" began: the pump began to turn.")
	t.add(h.Start, h.Start, s.rests(t.here(h.Start)))
}

func (t *teller) subject() string {
	if t.head.Machine == "" {
		return "a machine without a name"
	}
	return t.head.Machine
}

// here is the evidence of a moment: the channel by which it is told whether the
// pump turns, or where no frame stands there only what the record says of it.
func (t *teller) here(at time.Duration) Evidence {
	if ch := t.turningChannel(); t.walked.stands[at] && ch < frame.NumChannels {
		return lasting(ch, at, at)
	}
	return Evidence{Basis: OnRecord, Channel: frame.NumChannels, From: at, To: at, Name: "run"}
}

// turningChannel is the one that shows best whether the pump turns.
func (t *teller) turningChannel() frame.Channel {
	for _, ch := range []frame.Channel{frame.ShaftSpeed, frame.MotorCurrent, frame.Running} {
		if t.walked.fitted[ch] {
			return ch
		}
	}
	return frame.NumChannels
}

// tellStop tells how it ended.
func (t *teller) tellStop() {
	h := &t.head
	if h.ID.N == 0 {
		return
	}
	s := say(KindStop, endedSentence(h.Ended)).rests(t.here(h.End))
	s.rests(Evidence{Basis: OnRecord, Channel: frame.NumChannels, From: h.End, To: h.End, Name: "run.ended"})
	t.add(h.End, h.End, s)
}

const (
	// longPause is how long the outlet must be closed, or the pump stand, to be
	// told by itself; a shorter one is a pause of the trigger.
	longPause = 30 * time.Second
	// maxStops is up to how many stops are told one by one.
	maxStops = 12
	// dark is how long a state must be unknown to be told.
	dark = 5 * time.Second
)

// tellStates tells what the machine did in between.
func (t *teller) tellStates() {
	stops := t.turns()
	for i := 1; i < len(stops) && len(stops) <= 2*maxStops; i++ {
		if off := stops[i-1]; !off.turns {
			t.tellStop2(off)
		}
	}
	var short stretchSum
	for _, s := range t.walked.states {
		long := s.to-s.from >= longPause
		switch {
		case s.state == machine.Bypassing && long:
			e := lasting(t.outletChannel(), s.from, s.to)
			t.add(s.from, s.to, say(KindState, "The outlet was closed for ").shown(units.Duration, e).
				words(" while the pump turned, so that water went round in it."))
		case s.state == machine.Bypassing:
			short.add(&s)
		case s.state == machine.Unknown && s.to-s.from >= dark:
			e := lasting(frame.NumChannels, s.from, s.to)
			t.add(s.from, s.to, say(KindState, "What the machine did can't be told for ").shown(units.Duration, e).words("."))
		}
	}
	if short.n > 0 {
		s := say(KindState, "From here on the outlet was closed for a short while "+times(short.n)+", with the pump turning: ").
			amount(units.Duration, short.sum.Seconds()).words(" in all.")
		t.add(short.from, short.to, s.rests(Evidence{Basis: OnRecord, Channel: t.outletChannel(), From: short.from, To: short.to, Name: "states"}))
	}
	t.tellSwitch()
	t.tellConditions()
}

// tellSwitch tells when it was switched on and off, where that is watched and not
// too often to be read.
func (t *teller) tellSwitch() {
	if len(t.walked.switched) > 2*maxStops {
		return
	}
	for _, x := range t.walked.switched {
		word := "off"
		if x.on {
			word = "on"
		}
		t.add(x.at, x.at, say(KindSwitch, "It was switched "+word+".").rests(lasting(frame.Running, x.at, x.at)))
	}
}

// stretchSum adds up short states.
type stretchSum struct {
	n        int
	sum      time.Duration
	from, to time.Duration
}

func (x *stretchSum) add(s *stateSpan) {
	if x.n == 0 {
		x.from = s.from
	}
	x.n++
	x.sum += s.to - s.from
	x.to = s.to
}

// outletChannel is the one that shows a closed outlet.
func (t *teller) outletChannel() frame.Channel {
	for _, ch := range []frame.Channel{frame.Trigger, frame.Flow} {
		if t.walked.fitted[ch] {
			return ch
		}
	}
	return frame.NumChannels
}

// turn is a stretch in which the pump turned, or didn't.
type turn struct {
	turns    bool
	from, to time.Duration
}

// turns merges the states to turning and standing, within the run itself.
func (t *teller) turns() (out []turn) {
	for _, s := range t.walked.states {
		if s.state == machine.Unknown {
			continue
		}
		on := s.state.Turning()
		if n := len(out); n > 0 && out[n-1].turns == on {
			out[n-1].to = s.to
			continue
		}
		out = append(out, turn{on, s.from, s.to})
	}
	return out
}

// tellStop2 tells of a stop in the middle; the run's own ends are told already.
func (t *teller) tellStop2(off turn) {
	if off.from <= t.head.Start || off.to > t.head.End {
		return
	}
	t.add(off.from, off.to, say(KindState, "The pump stopped, and was started again after ").
		shown(units.Duration, lasting(t.turningChannel(), off.from, off.to)).words("."))
}

// condition is what is told of a channel in the conditions.
type condition struct {
	ch    frame.Channel
	words string
}

var conditions = []condition{
	{frame.InletPressure, "inlet pressure "}, {frame.WaterTemp, "water at "}, {frame.Flow, "flow "},
	{frame.OutletPressure, "outlet pressure "}, {frame.MotorCurrent, "motor current "},
	{frame.SupplyVoltage, "voltage "}, {frame.AmbientTemp, "air at "}, {frame.TankLevel, "tank at "},
}

// The span of the conditions: from some seconds after the pump began to work.
const workedFor, workedIn = 10 * time.Second, 5 * time.Second

// working finds the first ten seconds of settled work.
func (t *teller) working() (from, to time.Duration, ok bool) {
	for _, s := range t.walked.states {
		if s.state == machine.Running && s.from+workedIn+workedFor <= s.to {
			return s.from + workedIn, s.from + workedIn + workedFor, true
		}
	}
	return 0, 0, false
}
