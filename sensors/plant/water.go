package plant

import "math"

// Properties of water. They are textbook correlations other than those of
// rules/water, so that a test can hold one against the other.
const (
	densityKgM3 = 998.2  // at 20 C; handbook value from memory
	heatJKgK    = 4186.0 // the 15 degree calorie; from memory
	gravityMS2  = 9.80665
	iceK        = 273.15
	// volHeatJM3K is the heat of a cubic metre of water per kelvin.
	volHeatJM3K = densityKgM3 * heatJKgK
	airKgM3     = 1.2
)

// vapourAbsPa is the vapour pressure of water in absolute Pa. Source: Antoine
// equation with the usual constants for 1 to 100 C (log10 mmHg: 8.07131,
// 1730.63, 233.426), from memory.
func vapourAbsPa(tempK float64) float64 {
	c := math.Min(math.Max(tempK-iceK, 0), 120)
	return 133.322 * math.Exp(math.Ln10*(8.07131-1730.63/(233.426+c)))
}

// viscosityPaS is the dynamic viscosity of water. Source: Vogel equation,
// exp(-3.7188 + 578.919/(T-137.546)) mPa s, from memory.
func viscosityPaS(tempK float64) float64 {
	t := math.Min(math.Max(tempK, iceK), 390)
	return 1e-3 * math.Exp(-3.7188+578.919/(t-137.546))
}

// line is a flow path that costs lin*q + quad*q*q in pressure.
type line struct{ lin, quad float64 }

// flow returns the flow that a pressure drop drives; none against the drop,
// since every path here has a check valve or a backflow preventer.
func (l line) flow(dropPa float64) float64 {
	if dropPa <= 0 {
		return 0
	}
	return 2 * dropPa / (l.lin + math.Sqrt(l.lin*l.lin+4*l.quad*dropPa))
}

// orifice returns the line of an effective area, discharge coefficient
// included: dp = rho/2 (q/A)^2. The small linear part keeps the slope finite
// at zero flow; it stands for the laminar flow that a real opening has there.
func orifice(areaM2 float64) line {
	return line{lin: 1 / areaM2, quad: densityKgM3 / (2 * areaM2 * areaM2)}
}

// hose is the friction of a smooth round hose.
type hose struct{ poiseuille, blasius, reynolds float64 }

// newHose prepares the constants: dp = poiseuille*mu*q while laminar, and
// blasius*f*q^2 with f = 0.316 Re^-0.25 while turbulent (Darcy-Weisbach with
// the Blasius friction factor of smooth pipes, any text on fluid mechanics).
func newHose(lengthM, boreM float64) hose {
	d2 := boreM * boreM
	return hose{
		poiseuille: 128 * lengthM / (math.Pi * d2 * d2),
		blasius:    8 * densityKgM3 * lengthM / (math.Pi * math.Pi * d2 * d2 * boreM),
		reynolds:   4 * densityKgM3 / (math.Pi * boreM),
	}
}

// at returns the friction near the flow q. Between Reynolds 2300 and 4000 the
// two laws are mixed, as nobody can say which holds.
func (h hose) at(q, muPaS float64) line {
	re := math.Max(h.reynolds*q/muPaS, 1)
	turbulent := math.Min(math.Max((re-2300)/(4000-2300), 0), 1)
	f := 0.316 / math.Sqrt(math.Sqrt(math.Max(re, 2300)))
	return line{lin: (1 - turbulent) * h.poiseuille * muPaS, quad: turbulent * h.blasius * f}
}
