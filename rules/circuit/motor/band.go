package motor

import (
	"math"

	"headroom/rules/circuit/thermal"
)

// OverloadBand is the thermal memory where it isn't known to a point: the used
// share of the thermal capacity lies from Least to Most. Most never lies below
// Least. The zero value is a cold motor, known to be cold.
type OverloadBand struct{ Least, Most OverloadState }

// Width is Most less Least, as a share of the thermal capacity; 0 for a memory
// that is known.
func (b OverloadBand) Width() float64 { return b.Most.Theta - b.Least.Theta }

// LockedMultiple is the current of a rotor that stands, as a multiple of the
// rated current, where only a least is known of it. 6: common practice, no
// source; NEMA's code letters for small motors lie around it.
const LockedMultiple = 6.0

// ratedA is the basic current IB in amperes.
func (o Overload) ratedA() float64 { return o.stopA / StoppedShare }

// BandUnknown is the memory to start with where nothing is known of the time
// before: from cold to the heat of a long time at the rated current. A motor
// that was overloaded before is hotter than that; the band says that it is not
// known, not that it is well. ok=false for the zero Overload.
func (o Overload) BandUnknown() (OverloadBand, bool) {
	u, _, ok := o.heating(o.ratedA())
	return OverloadBand{Most: OverloadState{u}}, ok
}

// StepBand advances both edges by dtS seconds, the lower one at leastA and the
// upper one at mostA amperes. Range: as Step, leastA not above mostA; ok=false
// leaves the band as it was. It does not allocate.
func (o Overload) StepBand(b OverloadBand, leastA, mostA, dtS float64) (OverloadBand, bool) {
	if !(leastA <= mostA) {
		return b, false
	}
	lo, okLo := o.Step(b.Least, leastA, dtS)
	hi, okHi := o.Step(b.Most, mostA, dtS)
	if !okLo || !okHi {
		return b, false
	}
	return OverloadBand{lo, OverloadState{math.Max(lo.Theta, hi.Theta)}}, true
}

// StepBandUnknown advances the band by dtS seconds in which the current was not
// known: the lower edge cools to nothing with the quicker time constant, the
// upper one heads for the heat of the rated current or of lastA amperes, the
// last that was seen, whichever is more; where it is hotter than that it cools
// there with the slower time constant. Range: as Step; ok=false leaves the band
// as it was. It does not allocate.
func (o Overload) StepBandUnknown(b OverloadBand, lastA, dtS float64) (OverloadBand, bool) {
	u, tau, ok := o.heating(math.Max(lastA, o.ratedA()))
	if !ok {
		return b, false
	}
	if b.Most.Theta > u {
		tau = math.Max(o.tauS, o.coolTauS)
	}
	lo, okLo := thermal.Step(b.Least.Theta, 0, dtS, math.Min(o.tauS, o.coolTauS))
	hi, okHi := thermal.Step(b.Most.Theta, u, dtS, tau)
	if !okLo || !okHi {
		return b, false
	}
	return OverloadBand{OverloadState{lo}, OverloadState{math.Max(lo, hi)}}, true
}
