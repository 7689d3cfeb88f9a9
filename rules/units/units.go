// Package units converts between the SI values inside the program and the
// units that people read and write. Inside, every number is SI: pascal,
// kelvin, cubic metre per second, revolution per second. This package is the
// only place with a conversion factor; it knows no channel and no rule.
package units

import "math"

// Quantity is what a number measures, and so which units it can be shown in.
type Quantity uint8

// The quantities, with their SI unit inside the program.
const (
	// None is a quantity without a unit, such as a grade.
	None Quantity = iota
	// Pressure in Pa.
	Pressure
	// Temperature in K.
	Temperature
	// TemperatureDifference in K.
	TemperatureDifference
	// FlowRate in m3/s.
	FlowRate
	// Current in A.
	Current
	// Speed in revolutions per second.
	Speed
	// Voltage in V.
	Voltage
	// Acceleration in m/s2.
	Acceleration
	// Fraction is a share, 1 = 100 %.
	Fraction
	// Head of water in m.
	Head
	// Length in m.
	Length
	// Bore is a small length, such as an inner diameter, in m.
	Bore
	// Duration in s.
	Duration
	// Power in W.
	Power
	// Volume in m3.
	Volume
	// Energy in J.
	Energy
	// Switch is 0 or 1.
	Switch
	// Resistance in ohm.
	Resistance

	numQuantities
)

// System is the set of units a person reads.
type System uint8

// The two systems.
const (
	// SI shows kPa, °C, L/min.
	SI System = iota
	// US shows psi, °F, gpm.
	US
)

// String returns "SI" or "US".
func (s System) String() string {
	if s == US {
		return "US"
	}
	return "SI"
}

// Unit is a way to write a quantity: shown = si*Scale + Offset.
type Unit struct {
	// Symbol as written, for example "psi".
	Symbol string
	// Scale and Offset turn SI into this unit.
	Scale, Offset float64
	// Decimals that make sense on a screen.
	Decimals int
}

// FromSI converts an SI value into the unit.
func (u Unit) FromSI(v float64) float64 { return float64(v*u.Scale) + u.Offset }

// ToSI converts a value in the unit into SI.
func (u Unit) ToSI(v float64) float64 { return (v - u.Offset) / u.Scale }

// Exact factors for laws and tables of the trade that are stated in these
// units. Sources: international yard and pound (1 in = 25.4 mm, 1 lb =
// 0.45359237 kg), standard gravity 9.80665 m/s2 (CGPM 1901), US gallon 231 in3,
// NIST SP 811 appendix B.
const (
	// MetrePerInch is the international inch in m.
	MetrePerInch = 0.0254
	// M3PerGallon is the US gallon in m3.
	M3PerGallon = 231 * MetrePerInch * MetrePerInch * MetrePerInch
	// PascalPerPsi is the pound-force per square inch in Pa.
	PascalPerPsi = 0.45359237 * StandardGravityMS2 / (MetrePerInch * MetrePerInch)
	// StandardGravityMS2 is the standard acceleration of gravity in m/s2.
	StandardGravityMS2 = 9.80665
)

const (
	metrePerFoot  = 0.3048
	wattPerHp     = 550 * 0.45359237 * StandardGravityMS2 * metrePerFoot
	secondsPerMin = 60.0
	fahrenheit0K  = 459.67
	celsius0K     = 273.15
	joulePerKWh   = 3.6e6
	litrePerM3    = 1000.0
)

// show is the unit each quantity is shown in, for SI and US.
var show = [numQuantities][2]Unit{
	None:                  {{"", 1, 0, 2}, {"", 1, 0, 2}},
	Pressure:              {{"kPa", 1e-3, 0, 0}, {"psi", 1 / PascalPerPsi, 0, 1}},
	Temperature:           {{"°C", 1, -celsius0K, 1}, {"°F", 1.8, -fahrenheit0K, 0}},
	TemperatureDifference: {{"°C", 1, 0, 1}, {"°F", 1.8, 0, 1}},
	FlowRate:              {{"L/min", litrePerM3 * secondsPerMin, 0, 1}, {"gpm", secondsPerMin / M3PerGallon, 0, 2}},
	Current:               {{"A", 1, 0, 1}, {"A", 1, 0, 1}},
	Speed:                 {{"rpm", secondsPerMin, 0, 0}, {"rpm", secondsPerMin, 0, 0}},
	Voltage:               {{"V", 1, 0, 0}, {"V", 1, 0, 0}},
	Acceleration:          {{"m/s²", 1, 0, 2}, {"g", 1 / StandardGravityMS2, 0, 3}},
	Fraction:              {{"%", 100, 0, 0}, {"%", 100, 0, 0}},
	Head:                  {{"m", 1, 0, 1}, {"ft", 1 / metrePerFoot, 0, 1}},
	Length:                {{"m", 1, 0, 1}, {"ft", 1 / metrePerFoot, 0, 0}},
	Bore:                  {{"mm", 1e3, 0, 1}, {"in", 1 / MetrePerInch, 0, 3}},
	Duration:              {{"s", 1, 0, 0}, {"s", 1, 0, 0}},
	Power:                 {{"kW", 1e-3, 0, 2}, {"hp", 1 / wattPerHp, 0, 2}},
	Volume:                {{"L", litrePerM3, 0, 0}, {"gal", 1 / M3PerGallon, 0, 1}},
	Energy:                {{"kWh", 1 / joulePerKWh, 0, 2}, {"kWh", 1 / joulePerKWh, 0, 2}},
	Switch:                {{"", 1, 0, 0}, {"", 1, 0, 0}},
	Resistance:            {{"ohm", 1, 0, 1}, {"ohm", 1, 0, 1}},
}

// bigPressure is the unit for pressures above 2 MPa in SI.
var bigPressure = Unit{"MPa", 1e-6, 0, 2}

// For returns the unit a quantity is shown in. Pressures are always in kPa or
// psi; use Format to have large ones in MPa.
func For(q Quantity, s System) Unit {
	if q >= numQuantities || s > US {
		return Unit{Scale: 1}
	}
	return show[q][s]
}

// pick returns the unit for one value: the outlet's pressures read better in
// MPa, the high ones without decimals in psi.
func pick(q Quantity, s System, si float64) Unit {
	u := For(q, s)
	if q == Pressure && math.Abs(si) >= 2e6 {
		if s == SI {
			return bigPressure
		}
		u.Decimals = 0
	}
	return u
}

// siSymbols is the SI unit of each quantity as it stands in data for programs.
var siSymbols = [numQuantities]string{
	None: "1", Pressure: "Pa", Temperature: "K", TemperatureDifference: "K", FlowRate: "m3/s", Current: "A",
	Speed: "1/s", Voltage: "V", Acceleration: "m/s2", Fraction: "1", Head: "m", Length: "m", Bore: "m",
	Duration: "s", Power: "W", Volume: "m3", Energy: "J", Switch: "1",
}

// SISymbol returns the unit that numbers of the quantity have inside the
// program and in data for programs.
func SISymbol(q Quantity) string {
	if q >= numQuantities {
		return "1"
	}
	return siSymbols[q]
}
