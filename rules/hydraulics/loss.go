package hydraulics

// Loss is what a line costs at one flow, with the steps that led there.
type Loss struct {
	// Pa is the whole pressure loss in Pa, FrictionPa and MinorPa its parts.
	Pa, FrictionPa, MinorPa float64
	// VelocityMS is the mean velocity in m/s and Re the Reynolds number.
	VelocityMS, Re float64
	// Friction is the Darcy friction factor; 0 where nothing flows.
	Friction float64
	// Regime is the kind of flow; NoRegime where nothing flows.
	Regime Regime
}

// PipeLoss returns the pressure loss of a line at a flow in m3/s: friction by
// Darcy and Weisbach plus the fittings. Range: flow 0 or more, the line's and
// the water's fields in their ranges and the Reynolds number at most MaxRe;
// otherwise ok is false and the loss is zero. Height is not in it: a line that
// rises costs its head besides. Source: Darcy-Weisbach, any text on hydraulics.
func PipeLoss(p Pipe, w Water, flowM3s float64) (loss Loss, ok bool) {
	v, ok := VelocityMS(flowM3s, p.BoreM)
	if !ok || !p.valid() {
		return Loss{}, false
	}
	re, ok := Reynolds(v, p.BoreM, w)
	if !ok {
		return Loss{}, false
	}
	if re == 0 {
		return Loss{VelocityMS: v}, true
	}
	f, regime, ok := Friction(re, p.RoughnessM/p.BoreM)
	if !ok {
		return Loss{}, false
	}
	loss = Loss{VelocityMS: v, Re: re, Friction: f, Regime: regime}
	loss.FrictionPa = frictionPa(p, w, v, f, regime)
	loss.MinorPa, ok = MinorLossPa(p.MinorK, w.DensityKgM3, v)
	loss.Pa = loss.FrictionPa + loss.MinorPa
	if !ok || !notNegative(loss.FrictionPa) || !notNegative(loss.Pa) {
		return Loss{}, false
	}
	return loss, true
}

// frictionPa is Darcy-Weisbach. The laminar case is written without the
// factor, since 64/Re and the square of a tiny velocity leave the float64
// range long before their product does.
func frictionPa(p Pipe, w Water, v, f float64, regime Regime) float64 {
	if regime == Laminar {
		return 32 * w.ViscosityPaS * p.LengthM * v / (p.BoreM * p.BoreM)
	}
	return f * p.LengthM / p.BoreM * (w.DensityKgM3 * v * v / 2)
}

// MinorLossPa returns the loss in Pa of fittings with the loss coefficient k
// at a mean velocity in m/s. Range: k and velocity 0 or more, density in kg/m3
// above 0 and the result finite; otherwise ok is false. Source: the definition
// of the loss coefficient, k rho V2 / 2.
func MinorLossPa(k, densityKgM3, velocityMS float64) (pa float64, ok bool) {
	if !notNegative(k) || !positive(densityKgM3) || !notNegative(velocityMS) {
		return 0, false
	}
	pa = k * (densityKgM3 * velocityMS * velocityMS / 2)
	return keep(pa, notNegative(pa))
}
