// Package air gives the pressure of the standard atmosphere at an altitude,
// for a pump that has no barometer of its own.
//
// It owns the lowest layer of the US Standard Atmosphere 1976 (there the same
// as ISO 2533 and the ICAO atmosphere), from 500 m below to 11000 m above sea
// level, by either of the two altitudes the tables use. It refuses altitudes
// beyond that layer, and it knows no weather: the real pressure at sea level
// is mostly within about 3 % of the standard (common knowledge, no source), so
// a barometer is better where there is one.
package air

import "headroom/rules/detmath"

const (
	// SeaLevelPa is the standard pressure at sea level, absolute pascal.
	SeaLevelPa = 101325
	// MinAltM and MaxAltM bound both altitudes, in metres.
	MinAltM = -500
	MaxAltM = 11000

	seaLevelK     = 288.15  // Temperature at sea level, K.
	lapseKM       = 0.0065  // Fall of temperature, K per metre.
	gravityMS2    = 9.80665 // Standard gravity, m/s2.
	molarKgKmol   = 28.9644 // Molar mass of air, kg/kmol.
	gasJKmolK     = 8314.32 // Gas constant of the 1976 atmosphere, J/(kmol K).
	earthRadiusM  = 6356766 // Effective radius for gravity, m.
	lapseExponent = gravityMS2 * molarKgKmol / (gasJKmolK * lapseKM)
)

// PressureAtGeopotentialPa returns the standard absolute pressure in pascal at
// a geopotential altitude in metres, which counts height in units of equal
// work. Range MinAltM to MaxAltM; outside it, and for NaN, ok is false and the
// value 0.
// Source: US Standard Atmosphere 1976 eq. 33a; ISO 2533:1975.
func PressureAtGeopotentialPa(altM float64) (pa float64, ok bool) {
	if !inRange(altM) {
		return 0, false
	}
	return pressure(altM), true
}

// PressureAtGeometricPa returns the standard absolute pressure in pascal at a
// geometric altitude in metres: what a map, a survey or a satellite receiver
// tells. Range MinAltM to MaxAltM; outside it, and for NaN, ok is false and
// the value 0.
// Source: US Standard Atmosphere 1976 eq. 18 and 33a; ISO 2533:1975.
func PressureAtGeometricPa(altM float64) (pa float64, ok bool) {
	if !inRange(altM) {
		return 0, false
	}
	return pressure(geopotential(altM)), true
}

// GeopotentialM returns the geopotential altitude in metres of a geometric
// altitude in metres. Range MinAltM to MaxAltM; outside it, and for NaN, ok is
// false and the value 0.
// Source: US Standard Atmosphere 1976 eq. 18.
func GeopotentialM(altM float64) (m float64, ok bool) {
	if !inRange(altM) {
		return 0, false
	}
	return geopotential(altM), true
}

// inRange is false for NaN as well.
func inRange(altM float64) bool { return altM >= MinAltM && altM <= MaxAltM }

// geopotential accounts for gravity that falls with height.
func geopotential(altM float64) float64 {
	return earthRadiusM * altM / (earthRadiusM + altM)
}

// pressure is the barometric formula with a constant lapse rate.
func pressure(geopotentialM float64) float64 {
	ratio := 1 - float64(lapseKM*geopotentialM)/seaLevelK
	return SeaLevelPa * detmath.Pow(ratio, lapseExponent)
}
