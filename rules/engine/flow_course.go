package engine

import (
	"math"
	"time"

	"headroom/rules/frame"
	"headroom/rules/machine"
)

// flowCourse is how the flow has gone lately. Flow that is on its way, because
// somebody opens or lets go of the trigger, passes through every value between
// nothing and all, and a meter with its filter takes seconds over it: what is
// read meanwhile says nothing of the pump.
type flowCourse struct {
	// kept are the last shares of the expected flow, the newest at next-1,
	// so many of them as have been.
	kept    [keptShares]keptShare
	next, n int
	// still is whether they agree, see stands.
	still bool
	// state is the last state that could be told, stateAt when it came: a
	// reading that is missing for a moment changes nothing.
	state   machine.State
	stateAt time.Duration
	// arrived is whether the flow has stood still since the outlet opened.
	arrived bool
	// part is whether it has been more than half and less than enough,
	// partSince from when.
	part      bool
	partSince time.Duration
	// failed is whether the supply was seen to fail when its pressure was last
	// read, at readAt.
	failed bool
	readAt time.Duration
	// soundPa is the least inlet pressure while the flow was last enough, at
	// soundAt.
	soundPa float64
	soundAt time.Duration
	sound   bool
}

// keptShare is a share of the expected flow and when it was.
type keptShare struct {
	share float64
	at    time.Duration
}

const (
	keptShares = 6
	// keepEvery spaces them so that they reach back over stayFor.
	keepEvery = stayFor / (keptShares - 2)
)

// Common practice, no source, all of them: a trigger that is pulled for a
// second and let go for three keeps a meter of a second's delay moving by more
// than stayShare of the flow within stayFor, but for a moment at the top.
const (
	stayShare = 0.12
	stayFor   = time.Second
	// partFor is how long a flow may swing between half and enough until the
	// swing itself is taken for the fault, as with air in the water: nobody
	// works a trigger that fast for so long.
	partFor = 10 * time.Second
	// soundFor is how long the inlet of a sound flow is remembered, and fallPa
	// how far below it is more than the pump's pulse.
	soundFor = 10 * time.Second
	fallPa   = 15e3
	// riseSoundPaS is how fast that pressure is followed upwards, in Pa/s.
	riseSoundPaS = 1.5e3
)

// follow advances the course by one share of the expected flow; enough is the
// share below which the flow counts as short.
func (c *flowCourse) follow(x *view, share, enough float64) {
	c.still = c.stands(share, x.t)
	c.keep(share, x.t)
	settled := c.settled(&x.s.machine, x.t)
	c.arrived = settled && (c.arrived || c.still)
	part := share > 0.5 && share <= enough
	if part && !c.part {
		c.partSince = x.t
	}
	c.part = part
	p := x.smp[frame.InletPressure]
	if !p.OK() {
		return
	}
	if settled && share > enough {
		c.noteSound(p.Value, x.t, x.s.dtS)
	}
	c.failed, c.readAt = c.fails(x, p.Value), x.t
}

// settled is machine.Memory.Settled, but for moments in which the state can't
// be told.
func (c *flowCourse) settled(m *machine.Memory, t time.Duration) bool {
	if m.State != machine.Unknown && m.State != c.state {
		c.state, c.stateAt = m.State, t
	}
	return t-c.stateAt >= settleTime && m.OutletSettled(t, settleTime)
}

// noteSound follows the inlet of a sound flow down at once and up slowly: an
// outlet that closes sends a hammer to the inlet while the meter still counts.
func (c *flowCourse) noteSound(inletPa float64, t time.Duration, dtS float64) {
	if c.sound && t-c.soundAt <= soundFor {
		inletPa = math.Min(inletPa, c.soundPa+float64(riseSoundPaS*dtS))
	}
	c.soundPa, c.sound, c.soundAt = inletPa, true, t
}

// stands reports whether the flow is what it has been for stayFor, or was at
// the last frame where frames are farther apart.
func (c *flowCourse) stands(share float64, t time.Duration) bool {
	for i := 1; i <= c.n; i++ {
		k := c.kept[(c.next+keptShares-i)%keptShares]
		if math.Abs(share-k.share) > stayShare {
			return false
		}
		if t-k.at >= stayFor {
			return true
		}
	}
	return false
}

func (c *flowCourse) keep(share float64, t time.Duration) {
	if c.n > 0 && t-c.kept[(c.next+keptShares-1)%keptShares].at < keepEvery {
		return
	}
	c.kept[c.next] = keptShare{share, t}
	c.next, c.n = (c.next+1)%keptShares, min(c.n+1, keptShares)
}

// tells reports whether a flow that is short says something of pump or supply.
// Where the inlet is short too it does at once: an outlet that closes raises
// it. Where a switch sees the trigger open, nobody's hand moves the flow once it
// has arrived.
func (c *flowCourse) tells(x *view) bool {
	switch {
	case c.supplyFails(x.t):
		return true
	case !c.arrived:
		return false
	case c.still, digital(x.smp[frame.Trigger]) == machine.Yes:
		return true
	}
	return c.part && x.t-c.partSince >= partFor
}

// fails reports a supply that is seen to fail: pressure within the inlet
// rule's limits, too little margin, or less pressure than there was when the
// flow was enough. What isn't known is not seen to fail.
func (c *flowCourse) fails(x *view, inletPa float64) bool {
	lim := &x.cfg.Rules[InletLow]
	fell := c.sound && x.t-c.soundAt <= soundFor && inletPa < c.soundPa-fallPa
	return fell || lim.On && inletPa <= lim.inner() || x.d.margin.judge == Watching && !x.e.ampleMargin(x.s)
}

// supplyFails is the last answer about the supply, for as long as it counts: a
// starving pump hammers its inlet gauge out of its band.
func (c *flowCourse) supplyFails(t time.Duration) bool {
	return c.failed && t-c.readAt <= soundFor
}
