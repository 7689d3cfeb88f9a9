package heat

import "headroom/rules/detmath"

// MaxHorizonS is how far ahead an approach to a limit is told, in seconds (30
// days). What would take longer counts as never.
const MaxHorizonS = 30 * 86400

// Loop is a body of water that a constant power warms, mixed through, and
// perhaps exchanged with fresh supply. It is a value; copy it freely.
type Loop struct {
	// PowerW is the heat put into the loop, in watts, 0 to 1 MW.
	PowerW float64
	// WaterKg is the mass of water in it, in kg, above 0 to 1e5.
	WaterKg float64
	// HeatJKgK is the heat capacity of that water, in J/(kg K).
	HeatJKgK float64
	// MetalJK is the heat capacity of the metal that warms with the water, in
	// J/K, 0 to 1e8. 0 leaves it out, the pessimistic choice.
	MetalJK float64
	// ExchangeKgs is the fresh supply that enters and the warm water that
	// leaves, in kg/s, 0 to 1000. 0 is a closed loop.
	ExchangeKgs float64
	// SupplyK is the temperature of the fresh supply, in kelvin. It isn't
	// looked at in a closed loop.
	SupplyK float64
}

// valid reports whether every field is in its range.
func (l Loop) valid() bool {
	return within(l.PowerW, 0, maxPowerW) && upTo(l.WaterKg, maxMassKg) &&
		upTo(l.HeatJKgK, maxHeatJKgK) && within(l.MetalJK, 0, maxMetalJK) &&
		within(l.ExchangeKgs, 0, maxMassFlowKgs) &&
		(l.ExchangeKgs == 0 || isTemp(l.SupplyK))
}

// capacity is the heat capacity of the loop in J/K.
func (l Loop) capacity() float64 { return float64(l.WaterKg*l.HeatJKgK) + l.MetalJK }

// conductance is the heat carried off per kelvin above supply, in W/K.
func (l Loop) conductance() float64 { return l.ExchangeKgs * l.HeatJKgK }

// net is the power left at a temperature, in watts.
func (l Loop) net(tempK float64) float64 {
	if l.ExchangeKgs == 0 {
		return l.PowerW
	}
	return l.PowerW - float64(l.conductance()*(tempK-l.SupplyK))
}

// RateKs returns how fast the loop at tempK (kelvin, 200 to 500) warms, in
// K/s; negative where fresh supply cools it. Multiply by 60 for a minute.
// Source: C dT/dt = P - m c (T - Ts), first law.
func (l Loop) RateKs(tempK float64) (kS float64, ok bool) {
	if !l.valid() || !isTemp(tempK) || l.capacity() < 1e-3 {
		return 0, false
	}
	return l.net(tempK) / l.capacity(), true
}

// EquilibriumK returns the temperature in kelvin that a loop with exchange
// ends at. A closed loop has none (ok is false), and neither does one whose
// exchange is too small for an equilibrium below 500 K.
// Source: P = m c (T - Ts).
func (l Loop) EquilibriumK() (k float64, ok bool) {
	if !l.valid() || l.ExchangeKgs == 0 {
		return 0, false
	}
	k = l.SupplyK + l.PowerW/l.conductance()
	if !isTemp(k) {
		return 0, false
	}
	return k, true
}

// TempAfterK returns the temperature in kelvin of a loop that starts at tempK
// and runs for seconds (0 to MaxHorizonS). ok is false where an input, or the
// result, is out of range: the water has boiled long before 500 K.
// Source: solution of the balance of RateKs, first-order approach.
func (l Loop) TempAfterK(tempK, seconds float64) (k float64, ok bool) {
	rate, ok := l.RateKs(tempK)
	if !ok || !within(seconds, 0, MaxHorizonS) {
		return 0, false
	}
	x := seconds * l.conductance() / l.capacity()
	k = tempK + float64(rate*seconds*decay(x))
	if !isTemp(k) {
		return 0, false
	}
	return k, true
}

// decay is (1 - exp(-x))/x for x >= 0, with its series where the difference
// would lose digits.
func decay(x float64) float64 {
	if x < 1e-4 {
		return 1 - float64(x/2) + float64(x*x)/6
	}
	return (1 - detmath.Exp(-x)) / x
}

// logRatio is ln(1 + x)/x for x >= 0, with its series where the logarithm
// would lose digits.
func logRatio(x float64) float64 {
	if x < 1e-4 {
		return 1 - float64(x/2) + float64(x*x)/3
	}
	return detmath.Log(1+x) / x
}
