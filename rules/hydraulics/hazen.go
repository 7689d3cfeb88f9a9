package hydraulics

import "headroom/rules/detmath"

// The range of the roughness factor, and the units of the printed formula.
const (
	minHazenC     = 50.0
	maxHazenC     = 160.0
	hazenPsiPerFt = 4.52
	paPerPsi      = 6894.757293168361
	mPerFt        = 0.3048
	m3sPerGpm     = 6.30901964e-5
	mPerIn        = 0.0254
)

// HazenWilliamsLossPa returns the friction loss in Pa of water in a full line
// by the formula of Hazen and Williams, with lengthM 0 or more, boreM above 0,
// the roughness factor c from 50 (old iron) to 160 and flowM3s 0 or more;
// otherwise ok is false. It is a fit to water mains of 2 inches and more near
// 16 C in turbulent flow, knows no viscosity, and serves here only as a second
// opinion beside PipeLoss; sources disagree on c for the same material by
// some 10 percent. Source: NFPA 13, p = 4.52 Q^1.85 / (c^1.85 d^4.87) in psi
// per foot, gallons per minute and inches.
func HazenWilliamsLossPa(lengthM, boreM, c, flowM3s float64) (pa float64, ok bool) {
	if !notNegative(lengthM) || !positive(boreM) || !notNegative(flowM3s) {
		return 0, false
	}
	if !(c >= minHazenC && c <= maxHazenC) {
		return 0, false
	}
	if flowM3s == 0 || lengthM == 0 {
		return 0, true
	}
	flow := detmath.Pow(flowM3s/m3sPerGpm/c, 1.85)
	bore := detmath.Pow(boreM/mPerIn, 4.87)
	pa = hazenPsiPerFt * flow / bore * paPerPsi * (lengthM / mPerFt)
	return keep(pa, notNegative(pa))
}
