package motor

import (
	"fmt"
	"math"

	"headroom/rules/circuit/thermal"
	"headroom/rules/detmath"
)

// The ranges of the overload model.
const (
	// MaxMultiple is the largest current the model takes, as a multiple of the
	// trip current k*IB. Beyond it the reading is taken for a sensor's fault.
	MaxMultiple = 900.0
	// MinK and MaxK bound the factor k.
	MinK, MaxK = 1.0, 1.5
	// MinTauS and MaxTauS bound the time constants in seconds.
	MinTauS, MaxTauS = 1.0, 36000.0
	// StoppedShare is the share of the rated current below which the motor
	// counts as stopped and cools with its standstill time constant. 0.05:
	// common practice, no source.
	StoppedShare = 0.05
)

// OverloadConfig sets the thermal model up.
type OverloadConfig struct {
	// RatedA is the basic current IB in amperes, the nameplate's full-load
	// current, 0.1 to 1000.
	RatedA float64
	// K is the factor k of IEC 60255-149: k*IB is the largest current that
	// never trips. MinK to MaxK.
	K float64
	// TauS is the heating time constant in seconds, MinTauS to MaxTauS, from
	// the motor's or relay's data or from TauForClass.
	TauS float64
	// CoolTauS is the time constant in seconds while stopped; a motor without
	// its fan cools more slowly. 0 takes TauS.
	CoolTauS float64
}

// Overload is the thermal model of IEC 60255-149. Make it with NewOverload;
// the zero value answers ok=false and TripUnknown.
type Overload struct{ kIB, stopA, tauS, coolTauS float64 }

// NewOverload checks the configuration. The error says which value is out of
// range and what to set.
func NewOverload(c OverloadConfig) (Overload, error) {
	if c.CoolTauS == 0 {
		c.CoolTauS = c.TauS
	}
	for _, v := range [...]struct {
		name      string
		x, lo, hi float64
	}{
		{"the rated current in A", c.RatedA, 0.1, 1000},
		{"the factor k", c.K, MinK, MaxK},
		{"the time constant in s", c.TauS, MinTauS, MaxTauS},
		{"the standstill time constant in s", c.CoolTauS, MinTauS, MaxTauS},
	} {
		if !inRange(v.x, v.lo, v.hi) {
			return Overload{}, fmt.Errorf("cannot model the motor's overload with %s at %g: set %g to %g", v.name, v.x, v.lo, v.hi)
		}
	}
	return Overload{
		kIB: float64(c.K * c.RatedA), stopA: float64(StoppedShare * c.RatedA),
		tauS: c.TauS, coolTauS: c.CoolTauS,
	}, nil
}

// OverloadState is the thermal memory. Theta is the used share of the thermal
// capacity, 0 cold, 1 at the trip level. The zero value is a cold motor.
type OverloadState struct{ Theta float64 }

// Step advances the memory by dtS seconds at a constant RMS current of
// currentA amperes. Range: currentA 0 to MaxMultiple*k*IB, dtS 0 to 86400 s.
// ok=false leaves the memory as it was. It does not allocate. The result
// doesn't depend on how a span is cut into steps, but for rounding; the
// standard's own difference form is its first-order approximation.
// Source: IEC 60255-149, thermal model (from memory).
func (o Overload) Step(s OverloadState, currentA, dtS float64) (OverloadState, bool) {
	u, tau, ok := o.heating(currentA)
	if !ok {
		return s, false
	}
	theta, ok := thermal.Step(s.Theta, u, dtS, tau)
	if !ok {
		return s, false
	}
	return OverloadState{Theta: theta}, true
}

// Headroom is the unused share of the thermal capacity, 1 cold, 0 at the trip
// level and beyond. ok=false for a memory out of range.
func (o Overload) Headroom(s OverloadState) (float64, bool) {
	if !(o.kIB > 0) || !inRange(s.Theta, 0, thermal.MaxTheta) {
		return 0, false
	}
	return math.Max(0, 1-s.Theta), true
}

// Trip says what the thermal model expects at the present current.
type Trip uint8

// The answers of TimeToTrip.
const (
	// TripUnknown: the current or the memory is out of range.
	TripUnknown Trip = iota
	// TripNever: the present current never reaches the trip level.
	TripNever
	// TripAhead: the trip level is reached after the given time.
	TripAhead
	// TripReached: the memory is at or above the trip level and not cooling.
	TripReached
)

// String returns the answer as an identifier, not as text for the user.
func (t Trip) String() string {
	switch t {
	case TripNever:
		return "never"
	case TripAhead:
		return "ahead"
	case TripReached:
		return "reached"
	}
	return "unknown"
}

// TimeToTrip returns the seconds until the trip level is reached if currentA
// amperes flow from now on; they count for TripAhead and are 0 otherwise. It
// does not allocate.
// Source: IEC 60255-149, hot curve, with the memory in place of the earlier
// load.
func (o Overload) TimeToTrip(s OverloadState, currentA float64) (float64, Trip) {
	return o.TimeToLevel(s, currentA, 1)
}

// TimeToLevel is TimeToTrip for another level of the used share of the thermal
// capacity. Range: level above 0 to thermal.MaxTheta; TripUnknown otherwise.
func (o Overload) TimeToLevel(s OverloadState, currentA, level float64) (float64, Trip) {
	u, tau, ok := o.heating(currentA)
	switch {
	case !ok || !inRange(s.Theta, 0, thermal.MaxTheta) || !(level > 0 && level <= thermal.MaxTheta):
		return 0, TripUnknown
	case u <= level:
		return 0, TripNever
	case s.Theta >= level:
		return 0, TripReached
	}
	t, ok := thermal.TimeTo(s.Theta, u, level, tau)
	if !ok {
		return 0, TripUnknown
	}
	return t, TripAhead
}

// LevelsOffAt is the used share of the thermal capacity that a current of
// currentA amperes comes to in the end; ok=false for a current out of range.
// Source: IEC 60255-149, the steady state of the thermal model.
func (o Overload) LevelsOffAt(currentA float64) (theta float64, ok bool) {
	theta, _, ok = o.heating(currentA)
	return theta, ok
}

// CoolS returns the seconds of standstill until the used share of the thermal
// capacity falls to theta, 0 where it is there already. Range: theta above 0
// to 1; ok=false otherwise.
// Source: IEC 60255-149, cooling with the standstill time constant.
func (o Overload) CoolS(s OverloadState, theta float64) (float64, bool) {
	if !(o.kIB > 0) || !(theta > 0 && theta <= 1) || !inRange(s.Theta, 0, thermal.MaxTheta) {
		return 0, false
	}
	if s.Theta <= theta {
		return 0, true
	}
	return thermal.TimeTo(s.Theta, 0, theta, o.coolTauS)
}

// heating returns the steady used share and the time constant at a current.
func (o Overload) heating(currentA float64) (u, tauS float64, ok bool) {
	if !(o.kIB > 0) {
		return 0, 0, false
	}
	i := currentA / o.kIB
	if !inRange(i, 0, MaxMultiple) {
		return 0, 0, false
	}
	if currentA < o.stopA {
		return float64(i * i), o.coolTauS, true
	}
	return float64(i * i), o.tauS, true
}

// ColdTripS returns the trip time in seconds from cold:
// tau ln(I^2 / (I^2 - (k IB)^2)). Range: tauS 1 to 36000 s, kIB 0.1 to 1500 A,
// currentA above kIB and up to MaxMultiple*kIB; otherwise ok=false, which
// includes a current that never trips.
// Source: IEC 60255-149, cold curve.
func ColdTripS(tauS, kIB, currentA float64) (float64, bool) {
	return HotTripS(tauS, kIB, currentA, 0)
}

// HotTripS returns the trip time in seconds after a long time at priorA:
// tau ln((I^2 - Ip^2) / (I^2 - (k IB)^2)). Range: as ColdTripS, priorA 0 to
// kIB.
// Source: IEC 60255-149, hot curve (from memory).
func HotTripS(tauS, kIB, currentA, priorA float64) (float64, bool) {
	i := currentA / kIB
	if !inRange(tauS, MinTauS, MaxTauS) || !inRange(kIB, 0.1, 1500) || !inRange(priorA, 0, kIB) ||
		!(i > 1 && i <= MaxMultiple) {
		return 0, false
	}
	p := priorA / kIB
	top, bottom := float64(i*i)-float64(p*p), float64(i*i)-1
	if !(bottom > 0) {
		return 0, false
	}
	return math.Max(0, float64(tauS*detmath.Log(top/bottom))), true
}

// inRange reports lo <= x <= hi; NaN is never in range.
func inRange(x, lo, hi float64) bool { return x >= lo && x <= hi }
