package breaker

import "math"

// Kind says what the band allows from now on at the present current.
type Kind uint8

// The kinds, from no answer over harmless to overdue.
const (
	// KindUnknown: the current or the memory is out of range.
	KindUnknown Kind = iota
	// NoTrip: no breaker of the standard trips at this current.
	NoTrip
	// MayTripLater: some may trip from EarliestS on, others never.
	MayTripLater
	// TripsBetween: trips between EarliestS and LatestS.
	TripsBetween
	// MayTripNow: some may trip at any time from now, others never.
	MayTripNow
	// TripsWithin: may trip at any time from now, and by LatestS.
	TripsWithin
	// TripsAtOnce: above the instantaneous band, trips within LatestS.
	TripsAtOnce
	// Overdue: even the slowest breaker allowed should have tripped. The
	// breaker, its rating here or the current reading is not what it is said
	// to be.
	Overdue
)

// String returns the kind as an identifier, not as text for the user.
func (k Kind) String() string {
	switch k {
	case NoTrip:
		return "no-trip"
	case MayTripLater:
		return "may-trip-later"
	case TripsBetween:
		return "trips-between"
	case MayTripNow:
		return "may-trip-now"
	case TripsWithin:
		return "trips-within"
	case TripsAtOnce:
		return "trips-at-once"
	case Overdue:
		return "overdue"
	}
	return "unknown"
}

// Window is when the breaker may trip, in seconds from now.
type Window struct {
	// Kind says which of the times count.
	Kind Kind
	// EarliestS counts for every kind but KindUnknown and NoTrip.
	EarliestS float64
	// LatestS counts for TripsBetween, TripsWithin, TripsAtOnce and Overdue
	// (0), and is 0 otherwise. It is never less than EarliestS where it counts.
	LatestS float64
	// VouchedS is the longest time that the standard's calibration points
	// alone promise at this current, from the start the standard tests from; 0
	// where they promise no trip. Between two points it stays at the lower
	// point's time, where LatestS follows the model.
	VouchedS float64
}

// TimeToTrip says when the breaker trips if currentA amperes flow from now on,
// given its memory. Range: currentA 0 to MaxMultiple ratings; otherwise
// KindUnknown. At or below the hold current the answer is NoTrip whatever the
// memory: every allowed breaker heads for a rise below its trip level there.
// It does not allocate.
// Source: equation (1) in model.go and the standard's instantaneous band.
func (m Model) TimeToTrip(s State, currentA float64) Window {
	u, ok := m.heating(currentA)
	if !ok || !m.valid(s) {
		return Window{}
	}
	w := m.thermalWindow(s, u)
	i := currentA / m.ratingA
	w.VouchedS = m.vouched(i)
	if w.Kind == Overdue || i <= m.cal.InstantLow {
		return w
	}
	if i >= m.cal.InstantHigh {
		return Window{Kind: TripsAtOnce, LatestS: m.atOnceLatest(w), VouchedS: w.VouchedS}
	}
	return withinInstantBand(w)
}

// thermalWindow is the window of the two thermal images alone, at the steady
// rise u.
func (m Model) thermalWindow(s State, u float64) Window {
	earliest, possible := m.fast.timeTo(s.Fast, u)
	latest, sure := m.slow.timeTo(s.Slow, u)
	switch {
	case !possible:
		return Window{Kind: NoTrip}
	case s.Slow >= m.slow.level:
		return Window{Kind: Overdue}
	case !sure && earliest > 0:
		return Window{Kind: MayTripLater, EarliestS: earliest}
	case !sure:
		return Window{Kind: MayTripNow}
	}
	// After a pause the slow image may be the warmer one; the band then starts
	// at whichever edge comes first.
	earliest = math.Min(earliest, latest)
	if earliest > 0 {
		return Window{Kind: TripsBetween, EarliestS: earliest, LatestS: latest}
	}
	return Window{Kind: TripsWithin, LatestS: latest}
}

// withinInstantBand widens a thermal window to a current at which the
// instantaneous release of some breakers acts and that of others doesn't.
func withinInstantBand(w Window) Window {
	w.EarliestS = 0
	if w.Kind == TripsBetween || w.Kind == TripsWithin {
		w.Kind = TripsWithin
	} else {
		w.Kind = MayTripNow
	}
	return w
}

// atOnceLatest is the instantaneous release's time, or the slow image's where
// that is already closer to its trip.
func (m Model) atOnceLatest(w Window) float64 {
	if w.Kind == TripsBetween || w.Kind == TripsWithin {
		return math.Min(m.cal.InstantS, w.LatestS)
	}
	return m.cal.InstantS
}

// vouched is the longest time that the calibration points alone allow at i
// times the rating.
func (m Model) vouched(i float64) float64 {
	switch {
	case i >= m.cal.InstantHigh:
		return m.cal.InstantS
	case i >= m.cal.RefMultiple:
		return m.cal.RefLatestS
	case i >= m.cal.TripMultiple:
		return m.cal.TripS
	}
	return 0
}
