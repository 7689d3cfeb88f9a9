package suction

import "fmt"

// MaxPoints is how many points of NPSHR a pump may have.
const MaxPoints = 16

// AssumedNPSHRM is the NPSHR in m that is taken where the pump's papers state
// none. It is an assumption and every answer on it is flagged. It stands for
// a small plunger pump that wants a flooded inlet: half of what open water at
// sea level gives (10 m). Common practice, no source; the pump's own figure
// replaces it.
const AssumedNPSHRM = 5.0

// The range of NPSHR in m, beyond any reciprocating pump on either side; it
// catches a wrong unit and an empty field.
const (
	minNPSHRM = 0.01
	maxNPSHRM = 100.0
)

// Point is one point of the pump's NPSHR: at SpeedHz (rev/s) it requires
// NPSHRM (m of water).
type Point struct{ SpeedHz, NPSHRM float64 }

// Required is what the pump requires over its speed. The zero value has no
// points and answers with the assumption.
type Required struct {
	n      int
	points [MaxPoints]Point
}

// Basis says on what a required head rests.
type Basis uint8

// The bases. The zero value is no answer.
const (
	// NoBasis means that there is no answer: the speed is out of range or
	// above the pump's fastest point.
	NoBasis Basis = iota
	// FromPoints means the pump's own points.
	FromPoints
	// FromSlowest means that the pump turns slower than its slowest point,
	// whose NPSHR stands in; the true one is lower.
	FromSlowest
	// FromAssumption means AssumedNPSHRM.
	FromAssumption
)

// String returns the basis in plain words.
func (b Basis) String() string {
	switch b {
	case FromPoints:
		return "the pump's points"
	case FromSlowest:
		return "the pump's slowest point"
	case FromAssumption:
		return "an assumption"
	}
	return "no answer"
}

// NewRequired takes a pump's points, 1 to MaxPoints of them, with the speed
// rising from point to point (to 200 rev/s) and NPSHRM 0.01 to 100 m and never
// falling: NPSHR grows with speed on every reciprocating pump, and a
// point that falls is a slip of the pen. Any breach is an error that names the
// point. Source: Hydraulic Institute for the shape, quoted from memory.
func NewRequired(points []Point) (Required, error) {
	var r Required
	if len(points) == 0 || len(points) > MaxPoints {
		return Required{}, fmt.Errorf("cannot use %d points of NPSHR: give 1 to %d", len(points), MaxPoints)
	}
	for i, p := range points {
		if !(p.SpeedHz > 0 && p.SpeedHz <= maxSpeedHz) || !between(p.NPSHRM, minNPSHRM, maxNPSHRM) {
			return Required{}, fmt.Errorf("cannot use point %d of NPSHR (%g rev/s, %g m): give a speed above 0 to %g rev/s and a head of %g to %g m",
				i+1, p.SpeedHz, p.NPSHRM, maxSpeedHz, minNPSHRM, maxNPSHRM)
		}
		if i > 0 && (p.SpeedHz <= points[i-1].SpeedHz || p.NPSHRM < points[i-1].NPSHRM) {
			return Required{}, fmt.Errorf("cannot use point %d of NPSHR (%g rev/s, %g m): sort the points by speed, the head never falling",
				i+1, p.SpeedHz, p.NPSHRM)
		}
		r.points[i] = p
	}
	r.n = len(points)
	return r, nil
}

// AtM returns the NPSHR in m at a speed in rev/s and on what it rests. Between
// two points it is a straight line. Slower than the slowest point it is that
// point's, which is on the safe side, and flagged FromSlowest; faster than the
// fastest there is no answer, since any guess would be on the unsafe side.
// Without points it is AssumedNPSHRM. A speed outside 0 to 200 rev/s gives
// NoBasis and 0.
func (r Required) AtM(speedHz float64) (npshrM float64, basis Basis) {
	if !between(speedHz, 0, maxSpeedHz) {
		return 0, NoBasis
	}
	if r.n == 0 {
		return AssumedNPSHRM, FromAssumption
	}
	if speedHz < r.points[0].SpeedHz {
		return r.points[0].NPSHRM, FromSlowest
	}
	if speedHz > r.points[r.n-1].SpeedHz {
		return 0, NoBasis
	}
	i := 1
	for i < r.n && speedHz > r.points[i].SpeedHz {
		i++
	}
	if i == r.n {
		return r.points[r.n-1].NPSHRM, FromPoints
	}
	a, b := r.points[i-1], r.points[i]
	share := (speedHz - a.SpeedHz) / (b.SpeedHz - a.SpeedHz)
	return a.NPSHRM + float64(share*(b.NPSHRM-a.NPSHRM)), FromPoints
}
