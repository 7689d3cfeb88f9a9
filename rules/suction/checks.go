package suction

import (
	"math"

	"headroom/rules/check"
)

const (
	psi = 6894.757293168361
	ft  = 0.3048

	if97    = "formula worked in psi and feet with saturation pressure and density by python3-iapws 1.5.3 (IAPWS-IF97)"
	gpsa    = "GPSA Engineering Data Book, reciprocating pump example, from memory"
	liftTab = "public engineering table of suction lift of water by temperature, from memory"
	hiC     = "public program citing Hydraulic Institute and API 674; the standards were not at hand"
	cameron = "Cameron Hydraulic Data, velocity head column, from memory"
)

// Checks returns what this package computes, with what it was compared with.
func Checks() []check.Quantity {
	return []check.Quantity{
		velocityHeadCheck(), availableCheck(), accelerationCheck(), constantCheck(),
		requiredCheck(), marginCheck(), vapourCheck(), gaugeCheck(),
	}
}

func velocityHeadCheck() check.Quantity {
	head := func(fts float64) float64 { return orNaN(VelocityHeadM(fts*ft)) / ft }
	return check.Quantity{
		Name: "velocity head", Func: "suction.VelocityHeadM", Unit: "ft", Formula: "V^2/(2 g)",
		Range: "0 to 100 m/s", Source: "Bernoulli", Tol: 1e-3,
		Cases: []check.Case{
			// Half a unit of the last printed figure.
			{Name: "9.56 ft/s", Want: 1.42, Got: head(9.56), Source: cameron, Origin: check.Memory, Tol: 0.0036},
			{Name: "1 ft/s", Want: 0.0155, Got: head(1), Source: "the value of 1/(2 x 32.174)", Origin: check.Arithmetic, Tol: 0.0033},
		},
	}
}

// example is the water at the inlet in the units of the worked examples.
func example(gaugePsi, airPsi, vapourPsi, rho, fts float64) Inlet {
	return Inlet{GaugePa: gaugePsi * psi, AirPa: airPsi * psi, VapourPa: vapourPsi * psi,
		DensityKgM3: rho, VelocityMS: fts * ft}
}

func availableCheck() check.Quantity {
	feet := func(in Inlet) float64 { return orNaN(AvailableM(in)) / ft }
	open := func(vapourKPa float64) float64 {
		return orNaN(AvailableM(Inlet{AirPa: 101325, VapourPa: vapourKPa * 1e3, DensityKgM3: 1000})) / ft
	}
	raised := example(30, 14.6959, 0.363340607, 997.970506, 5)
	raised.GaugeHeightM = 2 * ft
	return check.Quantity{
		Name: "net positive suction head available", Func: "suction.AvailableM", Unit: "ft",
		Formula: "(p_gauge + p_air - p_vapour)/(rho g) + V^2/(2 g) + z_gauge",
		Range:   "air 30 to 120 kPa abs, density 500 to 1500 kg/m3",
		// The air of 14.6959 psi has six digits, the wanted values too.
		Tol:    1e-5,
		Source: "Hydraulic Institute, form as a public pump handbook gives it",
		Cases: []check.Case{
			{Name: "70 F (997.9705 kg/m3), 30 psig, sea level, 5 ft/s", Want: 102.8567, Got: feet(example(30, 14.6959, 0.363340607, 997.970506, 5)), Source: if97, Origin: check.Arithmetic},
			{Name: "the same, gauge 2 ft over the datum", Want: 104.8567, Got: feet(raised), Source: if97, Origin: check.Arithmetic},
			{Name: "140 F, 5 inHg of suction, sea level, 5 ft/s", Want: 22.3171, Got: feet(example(-2.456, 14.6959, 2.89289399, 983.21061, 5)), Source: if97, Origin: check.Arithmetic},
			{Name: "70 F, 0 psig, 5000 ft, 7.262 ft/s", Want: 28.2422, Got: feet(example(0, 12.2277, 0.363340607, 997.970506, 7.262)), Source: if97, Origin: check.Arithmetic},
			// Printed to 0.1 m.
			{Name: "20 C, open water at sea level (10.1 m)", Want: 10.1 / ft, Got: open(2.3), Source: liftTab, Origin: check.Memory, Tol: 0.006},
			{Name: "60 C, open water at sea level (8.3 m)", Want: 8.3 / ft, Got: open(20), Source: liftTab, Origin: check.Memory, Tol: 0.006},
			{Name: "80 C, open water at sea level (5.5 m)", Want: 5.5 / ft, Got: open(47.5), Source: liftTab, Origin: check.Memory, Tol: 0.009},
		},
	}
}

// gpsaLine is the example's line: 360 rpm, triplex, water, K 1.4.
func gpsaLine(lengthFt, fts float64) Line {
	return Line{LengthM: lengthFt * ft, VelocityMS: fts * ft, SpeedHz: 6, Pump: Triplex, LiquidK: KDeaeratedWater}
}

func accelerationCheck() check.Quantity {
	head := func(l Line) float64 {
		a, ok := Accelerate(l)
		return orNaN(a.HeadM, ok) / ft
	}
	four, six := gpsaLine(4, 1.84), gpsaLine(20, 0.81)
	return check.Quantity{
		Name: "acceleration head", Func: "suction.Accelerate", Unit: "ft",
		Formula: "L V N C/(K g), N in rev/min",
		Range:   "a value for rigid lines to 15 m; an upper bound beyond",
		Source:  "Hydraulic Institute, as a data book's example uses it",
		// Three printed figures, and g of 32.2 there against 32.174 here.
		Tol: 0.0022,
		Cases: []check.Case{
			{Name: "4 ft of 4 in, 1.84 ft/s", Want: 3.88, Got: head(four), Source: gpsa, Origin: check.Memory},
			{Name: "20 ft of 6 in, 0.81 ft/s", Want: 8.54, Got: head(six), Source: gpsa, Origin: check.Memory},
			{Name: "both lines", Want: 12.42, Got: head(four) + head(six), Source: gpsa, Origin: check.Memory},
		},
	}
}

func constantCheck() check.Quantity {
	q := check.Quantity{
		Name: "constant of the acceleration head", Func: "suction.AccelerationC", Unit: "1",
		Formula: "a constant by kind of pump", Range: "the seven kinds", Source: hiC, Tol: 1e-12,
	}
	for _, c := range []struct {
		kind PumpKind
		want float64
	}{
		{SimplexSingle, 0.400}, {SimplexDouble, 0.200}, {DuplexSingle, 0.200}, {DuplexDouble, 0.115},
		{Triplex, 0.066}, {Quintuplex, 0.040}, {Septuplex, 0.028},
	} {
		q.Cases = append(q.Cases, check.Case{Name: c.kind.String(), Want: c.want,
			Got: orNaN(AccelerationC(c.kind)), Origin: check.Worked})
	}
	return q
}

// orNaN returns a value that was answered and NaN where it was refused, so
// that a refusal fails the check.
func orNaN(v float64, ok bool) float64 {
	if !ok {
		return math.NaN()
	}
	return v
}
