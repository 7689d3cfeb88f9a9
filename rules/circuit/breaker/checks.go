package breaker

import "headroom/rules/check"

const (
	ulSecondary  = "UL 489, calibration test, read from a secondary page"
	ulMemory     = "UL 489, calibration test table, from memory"
	iecSecondary = "IEC 60898-1, time-current operating characteristics, read from secondary data pages"
)

// Checks returns this package's computed quantities with the outside values
// they are compared with. The calibration points are what the two images are
// fitted to, so the cases prove the fit; between the points the standards say
// nothing that could be compared.
func Checks() []check.Quantity {
	return []check.Quantity{latestCheck(), earliestCheck(), holdCheck(), vouchedCheck()}
}

// windowOf is the window of a breaker that carried fromMultiple ratings before
// and now carries multiple ratings. The zero Window of a failure fails checks.
func windowOf(s Standard, ratingA, fromMultiple, multiple float64) Window {
	m, err := New(Config{Standard: s, RatingA: ratingA})
	if err != nil {
		return Window{}
	}
	st, _ := m.StateAfter(float64(fromMultiple * ratingA))
	return m.TimeToTrip(st, float64(multiple*ratingA))
}

func latestCheck() check.Quantity {
	c := func(name string, want float64, s Standard, ratingA, from, mult float64, src string, o check.Origin) check.Case {
		return check.Case{Name: name, Want: want, Got: windowOf(s, ratingA, from, mult).LatestS, Source: src, Origin: o}
	}
	return check.Quantity{
		Name: "latest trip of the breaker band", Func: "breaker.Model.TimeToTrip", Unit: "s",
		Formula: "tau ln((i^2 - theta)/(i^2 - L)), slow edge",
		Range:   "current 0..900 In; UL 489 1..600 A, IEC 60898-1 1..125 A",
		Source:  "UL 489 and IEC 60898-1 calibration points",
		// The fit divides by exp(-tm/tau), at worst 1e-11, so the 1e-16 of a
		// float64 shows as about 1e-5 in the exponent.
		Tol: 1e-4,
		Cases: []check.Case{
			c("UL 489 20 A at 135 %, cold", 3600, UL489, 20, 0, 1.35, ulSecondary, check.Published),
			c("UL 489 20 A at 200 %, cold", 120, UL489, 20, 0, 2, ulSecondary, check.Published),
			c("UL 489 50 A at 200 %, cold", 240, UL489, 50, 0, 2, ulMemory, check.Memory),
			c("UL 489 100 A at 135 %, cold", 7200, UL489, 100, 0, 1.35, ulMemory, check.Memory),
			c("UL 489 100 A at 200 %, cold", 360, UL489, 100, 0, 2, ulMemory, check.Memory),
			c("UL 489 600 A at 200 %, cold", 840, UL489, 600, 0, 2, ulMemory, check.Memory),
			c("IEC 60898-1 C16 at 1.45 In after 1.13 In", 3600, IEC60898C, 16, 1.13, 1.45, iecSecondary, check.Published),
			c("IEC 60898-1 C16 at 2.55 In, cold", 60, IEC60898C, 16, 0, 2.55, iecSecondary, check.Published),
			c("IEC 60898-1 C40 at 2.55 In, cold", 120, IEC60898C, 40, 0, 2.55, iecSecondary, check.Published),
			c("IEC 60898-1 D80 at 1.45 In after 1.13 In", 7200, IEC60898D, 80, 1.13, 1.45, iecSecondary, check.Published),
			c("IEC 60898-1 B16 at 5 In", 0.1, IEC60898B, 16, 0, 5, "IEC 60898-1, instantaneous tripping, time from memory", check.Memory),
		},
	}
}

func earliestCheck() check.Quantity {
	c := func(name string, want float64, s Standard, ratingA, mult float64, src string, o check.Origin) check.Case {
		return check.Case{Name: name, Want: want, Got: windowOf(s, ratingA, 0, mult).EarliestS, Source: src, Origin: o}
	}
	return check.Quantity{
		Name: "earliest trip of the breaker band", Func: "breaker.Model.TimeToTrip (earliest)", Unit: "s",
		Formula: "tau ln((i^2 - theta)/(i^2 - L)), fast edge",
		Range:   "as the latest trip",
		Source:  "IEC 60898-1; UL 489 states no shortest time",
		Tol:     1e-9, Floor: 1e-9,
		Cases: []check.Case{
			c("IEC 60898-1 B16 at 2.55 In, cold", 1, IEC60898B, 16, 2.55, iecSecondary, check.Published),
			c("UL 489 20 A at 200 %, cold", 10, UL489, 20, 2, "shortest trip of ordinary 15 to 30 A breakers, common practice, no source", check.Practice),
			c("IEC 60898-1 C16 at 5.5 In may trip at once", 0, IEC60898C, 16, 5.5, iecSecondary, check.Published),
		},
	}
}

func holdCheck() check.Quantity {
	hold := func(s Standard, ratingA float64) float64 {
		m, err := New(Config{Standard: s, RatingA: ratingA})
		if err != nil || windowOf(s, ratingA, m.cal.HoldMultiple, m.cal.HoldMultiple).Kind != NoTrip {
			return 0
		}
		return m.HoldA()
	}
	return check.Quantity{
		Name: "current that must not trip the breaker", Func: "breaker.Model.HoldA", Unit: "A",
		Formula: "h In", Range: "as the latest trip", Source: "UL 489 and IEC 60898-1 calibration points", Tol: 1e-12,
		Cases: []check.Case{
			{Name: "UL 489 20 A", Want: 20, Got: hold(UL489, 20), Source: ulSecondary, Origin: check.Published},
			{Name: "IEC 60898-1 C16", Want: 18.08, Got: hold(IEC60898C, 16), Source: iecSecondary, Origin: check.Published},
		},
	}
}

func vouchedCheck() check.Quantity {
	c := func(name string, want float64, s Standard, ratingA, mult float64, src string, o check.Origin) check.Case {
		return check.Case{Name: name, Want: want, Got: windowOf(s, ratingA, 0, mult).VouchedS, Source: src, Origin: o}
	}
	return check.Quantity{
		Name: "longest trip time that the standard alone promises", Func: "breaker.Window.VouchedS", Unit: "s",
		Formula: "time of the nearest calibration point at or below the current",
		Range:   "as the latest trip", Source: "UL 489 and IEC 60898-1 calibration points", Tol: 1e-12, Floor: 1,
		Cases: []check.Case{
			c("UL 489 20 A at 134 %", 0, UL489, 20, 1.34, ulSecondary, check.Published),
			c("UL 489 20 A at 150 %", 3600, UL489, 20, 1.5, ulSecondary, check.Published),
			c("UL 489 20 A at 300 %", 120, UL489, 20, 3, ulSecondary, check.Published),
			c("IEC 60898-1 C63 at 2 In", 3600, IEC60898C, 63, 2, iecSecondary, check.Published),
		},
	}
}
