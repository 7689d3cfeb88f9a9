package engine

import (
	"math"
	"time"

	"headroom/rules/frame"
	"headroom/rules/machine"
)

// fedState is the memory of whether the inlet is fed.
type fedState struct {
	// meanPa is the inlet pressure's mean over fedS, kept near the limit.
	meanPa float64
	primed bool
	// full is whether the tank was seen to hold water, at fullAt; valid if
	// levelRead.
	full, levelRead bool
	fullAt          time.Duration
}

// Common practice, no source, all of them.
const (
	// fedS is the memory of the mean in seconds: a tank brings hardly more
	// pressure than the pump's pulse.
	fedS = 2.0
	// fedBandPa is how far below its limit a fed inlet may come while the
	// machine bypasses, and clearPa how far from it one reading is answer
	// enough.
	fedBandPa = 10e3
	clearPa   = 20e3
	// emptyTank is the level below which a tank feeds nobody for sure, where
	// the tank's rule has no limit.
	emptyTank = 0.1
)

// inletFed answers whether the inlet has water, so that no flow means a closed
// outlet: by its pressure, or by a tank that is known to hold water and that
// nothing sucks at. The limit is a gauge pressure and may lie below 0: a pump
// above its tank never sees more.
func (e *Engine) inletFed(s *State, t time.Duration, bypassed bool) machine.Tri {
	f, p, limit := &s.fed, s.out.Samples[frame.InletPressure], e.cfg.Machine.FedInletPa
	f.noteTank(e, s.out.Samples[frame.TankLevel], t)
	if !p.OK() {
		return machine.CannotTell
	}
	f.noteInlet(math.Max(limit-clearPa, math.Min(limit+clearPa, p.Value)), s.dtS)
	if bypassed {
		limit -= fedBandPa
	}
	if f.tankKnown(e, t) && !f.full {
		limit = math.Max(limit, 0) // a dry line is at air pressure, less what the pump sucks
	}
	switch {
	case p.Value > suctionPa && f.tankFeeds(e, s, t):
		return machine.Yes
	case math.Abs(p.Value-limit) >= clearPa:
		return yesIf(p.Value > limit)
	}
	return yesIf(f.meanPa > limit)
}

func (f *fedState) noteInlet(pa, dtS float64) {
	if !f.primed {
		f.primed, f.meanPa = true, pa
	}
	f.meanPa += float64(gainOf(dtS, fedS) * (pa - f.meanPa))
}

func (f *fedState) noteTank(e *Engine, level frame.Sample, t time.Duration) {
	if !level.OK() {
		return
	}
	least := emptyTank
	if l := &e.cfg.Rules[TankLow]; l.On && l.HasAct {
		least = l.Act
	}
	f.full, f.fullAt, f.levelRead = level.Value > least, t, true
}

// tankFeeds reports a tank with water in it. Air may still have got into the
// line behind it, and an outlet that is seen to hold no pressure says so.
func (f *fedState) tankFeeds(e *Engine, s *State, t time.Duration) bool {
	return f.full && f.tankKnown(e, t) && e.cfg.Machine.outletHeld(&s.out.Samples) != machine.No
}

// tankKnown reports a level that was read no longer ago than readings count.
func (f *fedState) tankKnown(e *Engine, t time.Duration) bool {
	return f.levelRead && t-f.fullAt <= e.cfg.States.Hold
}
