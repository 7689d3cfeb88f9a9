package breaker

const (
	minuteS = 60.0
	hourS   = 3600.0
)

// ul489 returns the calibration points of UL 489. 135 % is tested from cold,
// within one hour up to 50 A and two above.
func ul489(ratingA float64) Calibration {
	p := Calibration{
		HoldMultiple: 1,
		TripMultiple: 1.35, TripS: hourS,
		RefMultiple: 2, RefEarliestS: DefaultEarliestS, RefLatestS: ul489Twice(ratingA),
		InstantLow: UnstatedInstantLow, InstantHigh: UnstatedInstantHigh, InstantS: instantS,
	}
	if ratingA > 50 {
		p.TripS = 2 * hourS
	}
	return p
}

// ul489Twice is the longest trip time at 200 % in seconds.
func ul489Twice(ratingA float64) float64 {
	switch {
	case ratingA <= 30:
		return 2 * minuteS
	case ratingA <= 50:
		return 4 * minuteS
	case ratingA <= 100:
		return 6 * minuteS
	case ratingA <= 150:
		return 8 * minuteS
	case ratingA <= 225:
		return 10 * minuteS
	case ratingA <= 400:
		return 12 * minuteS
	}
	return 14 * minuteS
}

// iec60898 returns the calibration points of IEC 60898-1. Its 1.45 In test
// follows the 1.13 In test without a pause, so it starts from a warm breaker
// (from memory).
func iec60898(s Standard, ratingA float64) Calibration {
	p := Calibration{
		HoldMultiple: 1.13,
		TripMultiple: 1.45, TripS: hourS, TripFromMultiple: 1.13,
		RefMultiple: 2.55, RefEarliestS: 1, RefLatestS: minuteS,
		InstantS: instantS,
	}
	if ratingA > 63 {
		p.TripS = 2 * hourS
	}
	if ratingA > 32 {
		p.RefLatestS = 2 * minuteS
	}
	switch s {
	case IEC60898B:
		p.InstantLow, p.InstantHigh = 3, 5
	case IEC60898C:
		p.InstantLow, p.InstantHigh = 5, 10
	default:
		p.InstantLow, p.InstantHigh = 10, 20
	}
	return p
}
