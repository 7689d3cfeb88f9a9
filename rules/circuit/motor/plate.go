package motor

import "math"

// WPerHP is the mechanical horsepower in watts: 550 ft lbf/s, exact by the
// definitions of the foot and the pound.
const WPerHP = 745.69987158227022

// flcRow is one row of Table 430.248: horsepower and the full-load currents at
// 115, 200, 208 and 230 V.
type flcRow struct {
	hp float64
	a  [4]float64
}

func flcRows() [12]flcRow {
	return [12]flcRow{
		{1.0 / 6, [4]float64{4.4, 2.5, 2.4, 2.2}},
		{1.0 / 4, [4]float64{5.8, 3.3, 3.2, 2.9}},
		{1.0 / 3, [4]float64{7.2, 4.1, 4.0, 3.6}},
		{1.0 / 2, [4]float64{9.8, 5.6, 5.4, 4.9}},
		{3.0 / 4, [4]float64{13.8, 7.9, 7.6, 6.9}},
		{1, [4]float64{16, 9.2, 8.8, 8}},
		{1.5, [4]float64{20, 11.5, 11, 10}},
		{2, [4]float64{24, 13.8, 13.2, 12}},
		{3, [4]float64{34, 19.6, 18.7, 17}},
		{5, [4]float64{56, 32.2, 30.8, 28}},
		{7.5, [4]float64{80, 46, 44, 40}},
		{10, [4]float64{100, 57.5, 55, 50}},
	}
}

// flcColumn picks the table's column: 110-120 V reads 115, 220-240 V reads
// 230, and 200 and 208 V read their own.
func flcColumn(volts float64) (int, bool) {
	switch {
	case inRange(volts, 110, 120):
		return 0, true
	case volts == 200:
		return 1, true
	case volts == 208:
		return 2, true
	case inRange(volts, 220, 240):
		return 3, true
	}
	return 0, false
}

// FullLoadA returns the table's full-load current in amperes of a single-phase
// motor. ratedW is the shaft power in watts, within 2 % of one of the table's
// sizes (1/6 to 10 hp; 1.5 hp is 1118.5 W); volts 110-120, 200, 208 or
// 220-240. Sizes between the table's give ok=false and no interpolation, as
// the table allows none.
// Source: NFPA 70 (NEC) Table 430.248.
func FullLoadA(ratedW, volts float64) (float64, bool) {
	col, ok := flcColumn(volts)
	if !ok {
		return 0, false
	}
	hp := ratedW / WPerHP
	for _, r := range flcRows() {
		if math.Abs(hp-r.hp) <= float64(0.02*r.hp) {
			return r.a[col], true
		}
	}
	return 0, false
}

// Plate says how a nameplate current stands against the table.
type Plate uint8

// The verdicts of CheckPlate.
const (
	// PlateUnknown: no row of the table fits or an input is out of range.
	PlateUnknown Plate = iota
	// PlatePlausible: between PlateLow and PlateHigh times the table's value.
	PlatePlausible
	// PlateTooLow and PlateTooHigh: outside; the power, the voltage or the
	// current is likely typed wrongly, or the power is an advertised peak.
	PlateTooLow
	PlateTooHigh
)

// String returns the verdict as an identifier, not as text for the user.
func (p Plate) String() string {
	switch p {
	case PlatePlausible:
		return "plausible"
	case PlateTooLow:
		return "too-low"
	case PlateTooHigh:
		return "too-high"
	}
	return "unknown"
}

// PlateLow and PlateHigh bound a plausible nameplate current as a share of the
// table's, which is meant to cover most motors and so lies on the high side.
// Source: common practice, no source.
const (
	PlateLow  = 0.6
	PlateHigh = 1.25
)

// CheckPlate compares a nameplate current in amperes with the table and returns
// their quotient, 0 where the verdict is PlateUnknown. Range: plateA above 0 to
// 1000, the rest as FullLoadA.
func CheckPlate(plateA, ratedW, volts float64) (float64, Plate) {
	tableA, ok := FullLoadA(ratedW, volts)
	if !ok || !(plateA > 0 && plateA <= 1000) {
		return 0, PlateUnknown
	}
	share := plateA / tableA
	switch {
	case share < PlateLow:
		return share, PlateTooLow
	case share > PlateHigh:
		return share, PlateTooHigh
	}
	return share, PlatePlausible
}
