package cord

// Gauge is a conductor size.
type Gauge uint8

// The sizes of ordinary cords. The zero value is no size.
const (
	GaugeUnknown Gauge = iota
	AWG18
	AWG16
	AWG14
	AWG12
	AWG10
	MM2x0p75
	MM2x1
	MM2x1p5
	MM2x2p5
	MM2x4
	MM2x6
	MM2x10
)

// row is what the tables say of a size.
type row struct {
	name string
	// ohmPerKM is the resistance of one conductor in ohm per kilometre at
	// baseK.
	ohmPerKM, baseK float64
	// amp3 and amp2 are the ampacities in amperes with three and two conductors
	// that carry current; 0 where the table has no such size.
	amp3, amp2 float64
}

const (
	zeroCK = 273.15
	// footM is the international foot, exact; tables in ohm per 1000 ft are
	// divided by it to give ohm per km.
	footM = 0.3048
	// baseAWGK and baseMM2K are the temperatures of the two tables.
	baseAWGK = zeroCK + 75
	baseMM2K = zeroCK + 20
)

// rowOf returns a size's row; ok=false for GaugeUnknown and undefined values.
// Sources: NFPA 70 (NEC) chapter 9 table 8, stranded uncoated copper at 75 C
// (18 and 16 AWG from memory); IEC 60228 class 5, plain flexible copper at 20 C
// (from memory); NFPA 70 table 400.5(A)(1) columns A and B (from memory but for
// 12 AWG column B).
func rowOf(g Gauge) (row, bool) {
	switch g {
	case AWG18:
		return row{"18 AWG", 7.95 / footM, baseAWGK, 7, 10}, true
	case AWG16:
		return row{"16 AWG", 4.99 / footM, baseAWGK, 10, 13}, true
	case AWG14:
		return row{"14 AWG", 3.14 / footM, baseAWGK, 15, 18}, true
	case AWG12:
		return row{"12 AWG", 1.98 / footM, baseAWGK, 20, 25}, true
	case AWG10:
		return row{"10 AWG", 1.24 / footM, baseAWGK, 25, 30}, true
	case MM2x0p75:
		return row{"0.75 mm2", 26.0, baseMM2K, 0, 0}, true
	case MM2x1:
		return row{"1 mm2", 19.5, baseMM2K, 0, 0}, true
	case MM2x1p5:
		return row{"1.5 mm2", 13.3, baseMM2K, 0, 0}, true
	case MM2x2p5:
		return row{"2.5 mm2", 7.98, baseMM2K, 0, 0}, true
	case MM2x4:
		return row{"4 mm2", 4.95, baseMM2K, 0, 0}, true
	case MM2x6:
		return row{"6 mm2", 3.30, baseMM2K, 0, 0}, true
	case MM2x10:
		return row{"10 mm2", 1.91, baseMM2K, 0, 0}, true
	}
	return row{}, false
}

// String returns the size as printed on a cord, such as "12 AWG" or "1.5 mm2".
func (g Gauge) String() string {
	if r, ok := rowOf(g); ok {
		return r.name
	}
	return "unknown"
}

// ParseGauge is the inverse of String; ok=false for any other text.
func ParseGauge(s string) (Gauge, bool) {
	for g := AWG18; g <= MM2x10; g++ {
		if g.String() == s {
			return g, true
		}
	}
	return GaugeUnknown, false
}

// AmpacityA returns the ampacity of a flexible cord in amperes with carrying
// conductors that carry current: 2 for a single-phase cord with or without an
// equipment-grounding conductor, 3 for others. It is a note and no design: the
// cord's length, its reel and the ambient temperature may allow less. ok=false
// for sizes in square millimetres, which the table doesn't have, and for other
// numbers of conductors.
// Source: NFPA 70 (NEC) table 400.5(A)(1), from memory but for 12 AWG with two.
func AmpacityA(g Gauge, carrying int) (float64, bool) {
	r, ok := rowOf(g)
	if !ok || r.amp2 == 0 {
		return 0, false
	}
	switch carrying {
	case 2:
		return r.amp2, true
	case 3:
		return r.amp3, true
	}
	return 0, false
}
