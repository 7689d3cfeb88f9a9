package suction

import "math"

// Status says how a margin may be read.
type Status uint8

// The statuses. Where two caveats hold, the status is the heavier one and the
// margin's own fields tell both.
const (
	// OutsideRange means that there is no margin: an input is out of range,
	// the pump's kind is unknown, or it turns faster than its points reach.
	OutsideRange Status = iota
	// OK means that every part was computed within its range.
	OK
	// UpperBoundAcceleration means that the acceleration head is an upper
	// bound, so that the true margin is no smaller.
	UpperBoundAcceleration
	// AssumedNPSHR means that the pump's papers state no NPSHR: the margin may
	// be off either way.
	AssumedNPSHR
)

// String returns the status in plain words.
func (s Status) String() string {
	switch s {
	case OK:
		return "ok"
	case UpperBoundAcceleration:
		return "acceleration head is an upper bound"
	case AssumedNPSHR:
		return "NPSHR is assumed"
	}
	return "outside range"
}

// Wanted is the margin that the operator wants over NPSHR: the larger of a
// head and a ratio. It is a setting, see the package comment.
type Wanted struct {
	// HeadM is the wanted head over NPSHR in m, 0 to 100.
	HeadM float64
	// Ratio is the wanted quotient of available and required head, 1 to 10.
	Ratio float64
}

// DefaultWanted returns 1.5 m or a ratio of 1.1, whichever is more. It is
// borrowed from the guidance for rotodynamic pumps on water for want of one
// for plunger pumps. Source: a public page on NPSH margins.
func DefaultWanted() Wanted { return Wanted{HeadM: 1.5, Ratio: 1.1} }

// OverM returns the wanted margin in m over an NPSHR in m. Range: the fields
// in theirs, NPSHR 0.01 to 100; otherwise ok is false.
func (w Wanted) OverM(npshrM float64) (wantedM float64, ok bool) {
	if !between(w.HeadM, 0, maxNPSHRM) || !between(w.Ratio, 1, 10) || !between(npshrM, minNPSHRM, maxNPSHRM) {
		return 0, false
	}
	return math.Max(w.HeadM, (w.Ratio-1)*npshrM), true
}

// Margin is what is left between the head at the inlet and the head that the
// pump requires. All heads are in m of water.
type Margin struct {
	// Status says how to read the rest; where it is OutsideRange all is 0.
	Status Status
	// MarginM is AvailableM - AccelerationM - RequiredM; below 0 the pump
	// lacks head. Where UpperBound holds it is the lowest that the margin can
	// be, and on a long hose it may be absurdly low: judge by HighM too.
	MarginM float64
	// HighM is AvailableM - RequiredM, the margin if the pulse took nothing.
	// The true margin lies between MarginM and HighM where UpperBound holds.
	HighM float64
	// Ratio is (AvailableM - AccelerationM) / RequiredM.
	Ratio float64
	// AvailableM is NPSHA at the mean pressure, AccelerationM what the pulse
	// takes from it, RequiredM the NPSHR.
	AvailableM, AccelerationM, RequiredM float64
	// UpperBound says that AccelerationM is an upper bound.
	UpperBound bool
	// Basis says on what RequiredM rests.
	Basis Basis
}

// FindMargin returns the margin for the water at the inlet, the inlet line and
// the pump's requirement. The pump's speed is the line's. Any input outside
// its range gives the status OutsideRange and no numbers. Source: Hydraulic
// Institute: for a reciprocating pump the acceleration head is taken from the
// available head, quoted from memory.
func FindMargin(in Inlet, line Line, r Required) Margin {
	available, ok := AvailableM(in)
	if !ok {
		return Margin{}
	}
	n, ok := needOf(line, r)
	if !ok {
		return Margin{}
	}
	m := Margin{
		Status: OK, AvailableM: available, AccelerationM: n.acceleration.HeadM,
		RequiredM: n.requiredM, UpperBound: n.acceleration.UpperBound, Basis: n.basis,
	}
	left := available - m.AccelerationM
	m.MarginM, m.HighM = left-m.RequiredM, available-m.RequiredM
	m.Ratio = left / m.RequiredM
	switch {
	case m.Basis == FromAssumption:
		m.Status = AssumedNPSHR
	case m.UpperBound:
		m.Status = UpperBoundAcceleration
	}
	return m
}

// need is the head that the pump wants at its inlet.
type need struct {
	acceleration Acceleration
	requiredM    float64
	basis        Basis
}

// needOf gathers what pump and line want; ok is false outside their ranges.
func needOf(line Line, r Required) (n need, ok bool) {
	n.acceleration, ok = Accelerate(line)
	if !ok {
		return need{}, false
	}
	n.requiredM, n.basis = r.AtM(line.SpeedHz)
	return n, n.basis != NoBasis
}
