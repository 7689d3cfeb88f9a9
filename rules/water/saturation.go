package water

import "math"

// The saturation line runs from the lower bound of IF97 to the critical point.
const (
	// MinSatK and MaxSatK bound SatPressurePa, in kelvin.
	MinSatK = 273.15
	MaxSatK = 647.096
	// MinSatPa and MaxSatPa bound SatTempK, in absolute pascal. The lower one
	// is the saturation pressure at 273.15 K, which R7-97 rounds to 611.213.
	MinSatPa = 611.212677
	MaxSatPa = 22.064e6
)

// satN is R7-97 Table 34, counted from 1 as there. It is never written.
var satN = [11]float64{
	1: 0.11670521452767e4, 2: -0.72421316703206e6, 3: -0.17073846940092e2,
	4: 0.12020824702470e5, 5: -0.32325550322333e7, 6: 0.14915108613530e2,
	7: -0.48232657361591e4, 8: 0.40511340542057e6, 9: -0.23855557567849,
	10: 0.65017534844798e3,
}

// SatPressurePa returns the absolute pressure in pascal at which water of
// tempK (kelvin) boils. Range MinSatK to MaxSatK; outside it, and for NaN,
// ok is false and the value 0.
// Source: IAPWS R7-97(2012) eq. 30.
func SatPressurePa(tempK float64) (pa float64, ok bool) {
	if !(tempK >= MinSatK && tempK <= MaxSatK) {
		return 0, false
	}
	return satPressure(tempK), true
}

// satPressure is R7-97 eq. 30 without its range check.
func satPressure(tempK float64) float64 {
	th := tempK + satN[9]/(tempK-satN[10])
	th2 := float64(th * th)
	a := th2 + float64(satN[1]*th) + satN[2]
	b := float64(satN[3]*th2) + float64(satN[4]*th) + satN[5]
	c := float64(satN[6]*th2) + float64(satN[7]*th) + satN[8]
	r := 2 * c / (-b + math.Sqrt(float64(b*b)-float64(4*a*c)))
	r2 := r * r
	return r2 * r2 * 1e6
}

// SatTempK returns the temperature in kelvin at which water under absPa
// (absolute pascal) boils. Range MinSatPa to MaxSatPa; outside it, and for
// NaN, ok is false and the value 0.
// Source: IAPWS R7-97(2012) eq. 31.
func SatTempK(absPa float64) (k float64, ok bool) {
	if !(absPa >= MinSatPa && absPa <= MaxSatPa) {
		return 0, false
	}
	b2 := math.Sqrt(absPa / 1e6)
	b := math.Sqrt(b2)
	e := b2 + float64(satN[3]*b) + satN[6]
	f := float64(satN[1]*b2) + float64(satN[4]*b) + satN[7]
	g := float64(satN[2]*b2) + float64(satN[5]*b) + satN[8]
	d := 2 * g / (-f - math.Sqrt(float64(f*f)-float64(4*e*g)))
	s := satN[10] + d
	q := float64(s*s) - float64(4*(satN[9]+float64(satN[10]*d)))
	return (s - math.Sqrt(q)) / 2, true
}
