package breaker

import (
	"headroom/rules/circuit/thermal"
	"headroom/rules/detmath"
)

// The model. A thermal breaker is a bimetal heated by the square of the
// current. With i = I/In and theta the temperature rise as a multiple of the
// steady rise at In, one body with one time constant tau obeys
//
//	tau dtheta/dt = i*i - theta
//
// and trips when theta reaches its trip level L. From a state theta0 at a
// constant i that takes
//
//	t = tau ln((i*i - theta0) / (i*i - L))            (1)
//
// and never happens for i*i <= L. Each edge of the band has two unknowns, tau
// and L, and two calibration points:
//
// The fast edge just holds the hold current h, so L = h*h, and trips at the
// reference current r from cold at the earliest allowed time te:
//
//	tau = te / ln(r*r / (r*r - h*h))
//
// The slow edge trips at r from cold at the latest allowed time tl, and at the
// must-trip current m at the latest allowed time tm, from a breaker that
// carried p before (p = 0 for UL 489, 1.13 for IEC 60898-1):
//
//	tau = tl / ln(r*r / (r*r - L))                    (2)
//	L   = m*m - (m*m - p*p) exp(-tm/tau)              (3)
//
// Since tm is many tau, L is a hair below m*m, and putting (3) into (2) over
// and over settles in a few rounds.
//
// One time constant is the plainest body that has a memory at all. Real
// breakers also heat their box; where a maker's curve is at hand,
// Config.EarliestS moves the fast edge to it.

// MaxMultiple is the largest current that the model takes, as a multiple of
// the rating. Beyond it the reading is taken for a fault of the sensor.
const MaxMultiple = 900.0

// holdSlack lifts the fast edge's trip level by a relative 1e-9, far below any
// ammeter, so that a current that equals the hold current but for rounding
// holds.
const holdSlack = 1 + 1e-9

// fitRounds is how often (3) is put into (2). Each round shrinks the error by
// at least 0.02, so 30 rounds leave nothing to a float64.
const fitRounds = 30

// edge is one thermal image's time constant in seconds and trip level.
type edge struct{ tauS, level float64 }

// Model is a fitted breaker. Make it with New; the zero value answers
// KindUnknown to everything.
type Model struct {
	ratingA    float64
	cal        Calibration
	fast, slow edge
}

// New fits the two edges to a configuration. The error says which setting is
// out of range and what to set.
func New(c Config) (Model, error) {
	cal, err := CalibrationOf(c)
	if err != nil {
		return Model{}, err
	}
	return Model{ratingA: c.RatingA, cal: cal, fast: fitFast(cal), slow: fitSlow(cal)}, nil
}

// Calibration returns the points that the model was fitted to.
func (m Model) Calibration() Calibration { return m.cal }

// HoldA is the current in amperes that the breaker must hold for ever by its
// standard. (IEC 60898-1 proves its 1.13 In for one or two hours only.)
func (m Model) HoldA() float64 { return float64(m.cal.HoldMultiple * m.ratingA) }

func fitFast(c Calibration) edge {
	level := float64(sq(c.HoldMultiple) * holdSlack)
	r := sq(c.RefMultiple)
	return edge{tauS: c.RefEarliestS / detmath.Log(r/(r-level)), level: level}
}

func fitSlow(c Calibration) edge {
	r, top, from := sq(c.RefMultiple), sq(c.TripMultiple), sq(c.TripFromMultiple)
	e := edge{level: top}
	for range fitRounds {
		e.tauS = c.RefLatestS / detmath.Log(r/(r-e.level))
		e.level = top - float64((top-from)*detmath.Exp(-c.TripS/e.tauS))
	}
	return e
}

// heating returns the steady rise at a current; ok=false for a current that is
// no number, negative or above MaxMultiple ratings, and for a zero Model.
func (m Model) heating(currentA float64) (float64, bool) {
	if !(m.ratingA > 0) {
		return 0, false
	}
	i := currentA / m.ratingA
	if !(i >= 0 && i <= MaxMultiple) {
		return 0, false
	}
	return sq(i), true
}

// timeTo is thermal.TimeTo for one edge, with 0 s for a level already passed.
func (e edge) timeTo(theta, target float64) (float64, bool) {
	if target <= e.level {
		return 0, false
	}
	if theta >= e.level {
		return 0, true
	}
	return thermal.TimeTo(theta, target, e.level, e.tauS)
}

// sq rounds the product on its own, so that no processor fuses it into a sum.
func sq(x float64) float64 { return float64(x * x) }
