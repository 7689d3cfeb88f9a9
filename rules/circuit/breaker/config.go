package breaker

import "fmt"

// Standard is the standard that a breaker is built and calibrated to.
type Standard uint8

// The standards. The zero value is no standard, so that a forgotten setting
// is an error and no guess.
const (
	StandardUnknown Standard = iota
	// UL489 is the moulded-case breaker standard of North America.
	UL489
	// IEC60898B, C and D are the household breakers of IEC 60898-1 with their
	// three instantaneous bands.
	IEC60898B
	IEC60898C
	IEC60898D
)

// String returns the standard's number and, for IEC, the curve's letter.
func (s Standard) String() string {
	switch s {
	case UL489:
		return "UL 489"
	case IEC60898B:
		return "IEC 60898-1 B"
	case IEC60898C:
		return "IEC 60898-1 C"
	case IEC60898D:
		return "IEC 60898-1 D"
	}
	return "unknown standard"
}

// Config says which breaker it is.
type Config struct {
	// Standard is what is printed on the breaker.
	Standard Standard
	// RatingA is the rated current In in amperes: 1 to 600 for UL 489, 1 to
	// 125 for IEC 60898-1.
	RatingA float64
	// EarliestS is the shortest trip time in seconds from cold at the
	// calibration point of Calibration.RefMultiple, from the maker's
	// time-current curve. 0 takes the default: IEC 60898-1 states 1 s, UL 489
	// states none and DefaultEarliestS stands in.
	EarliestS float64
	// InstantLow and InstantHigh are the instantaneous band as multiples of
	// RatingA, from the maker's curve. Both 0 take the default: IEC's band for
	// the letter, or UnstatedInstantLow and UnstatedInstantHigh for UL 489.
	InstantLow, InstantHigh float64
}

// What UL 489 leaves open, filled with common practice, no source: the band of
// ordinary 15 to 30 A breakers. A maker's curve should replace them.
const (
	// DefaultEarliestS is the shortest trip time from cold at 200 % in seconds.
	DefaultEarliestS = 10.0
	// UnstatedInstantLow and UnstatedInstantHigh are multiples of the rating.
	UnstatedInstantLow  = 5.0
	UnstatedInstantHigh = 20.0
)

// Calibration is the set of points that a breaker of a rating must pass, all
// currents as multiples of the rating.
type Calibration struct {
	// HoldMultiple is the current that must not trip it.
	HoldMultiple float64
	// TripMultiple must trip it within TripS seconds, starting from a breaker
	// that carries TripFromMultiple.
	TripMultiple, TripS, TripFromMultiple float64
	// RefMultiple must trip it from cold between RefEarliestS and RefLatestS.
	RefMultiple, RefEarliestS, RefLatestS float64
	// InstantLow must not trip it at once and InstantHigh must, within
	// InstantS seconds.
	InstantLow, InstantHigh, InstantS float64
}

// instantS is the time within which an instantaneous trip is over, in seconds:
// 0.1 s, IEC 60898-1 (from memory); taken for UL 489 too.
const instantS = 0.1

// CalibrationOf returns the calibration points of a configuration. The error
// says which setting is out of range.
// Source: UL 489 (135 % and 200 % up to 30 A from a secondary page, the other
// ratings from memory); IEC 60898-1 (from secondary data pages).
func CalibrationOf(c Config) (Calibration, error) {
	var p Calibration
	maxA := 125.0
	switch c.Standard {
	case UL489:
		p, maxA = ul489(c.RatingA), 600
	case IEC60898B, IEC60898C, IEC60898D:
		p = iec60898(c.Standard, c.RatingA)
	default:
		return Calibration{}, fmt.Errorf("cannot model a breaker without its standard: set it to what is printed on the breaker")
	}
	if !(c.RatingA >= 1 && c.RatingA <= maxA) {
		return Calibration{}, fmt.Errorf("cannot model a breaker of %g A by %v: set a rating of 1 to %g A", c.RatingA, c.Standard, maxA)
	}
	return override(p, c)
}

// override puts the maker's values in place of the standard's.
func override(p Calibration, c Config) (Calibration, error) {
	if c.EarliestS != 0 {
		if !(c.EarliestS >= 0.1 && c.EarliestS <= p.RefLatestS) {
			return Calibration{}, fmt.Errorf("cannot take %g s as the earliest trip at %g times the rating: set 0.1 to %g s, or 0 for the default",
				c.EarliestS, p.RefMultiple, p.RefLatestS)
		}
		p.RefEarliestS = c.EarliestS
	}
	if c.InstantLow != 0 || c.InstantHigh != 0 {
		if !(c.InstantLow >= p.RefMultiple && c.InstantHigh >= c.InstantLow && c.InstantHigh <= MaxMultiple) {
			return Calibration{}, fmt.Errorf("cannot take %g to %g times the rating as the instantaneous band: set %g or more, the lower end first, or both 0 for the default",
				c.InstantLow, c.InstantHigh, p.RefMultiple)
		}
		p.InstantLow, p.InstantHigh = c.InstantLow, c.InstantHigh
	}
	return p, nil
}
