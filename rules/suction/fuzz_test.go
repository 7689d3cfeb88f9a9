package suction_test

import (
	"math"
	"testing"

	"headroom/rules/suction"
)

func FuzzSuction(f *testing.F) {
	f.Add(250e3, 101325.0, 2339.0, 998.2, 2.2, 0.3, 15.0, 24.0, uint8(5), 1.5, 3.0)
	f.Add(-1e5, 1e5, 0.0, 500.0, 0.0, -100.0, 0.0, 0.0, uint8(0), 1.0, 0.0)
	f.Add(math.NaN(), math.Inf(1), -1.0, 5e-324, math.MaxFloat64, math.Inf(-1), math.Copysign(0, -1), 200.0, uint8(255), 0.0, math.NaN())
	f.Fuzz(func(t *testing.T, gauge, air, vapour, rho, v, height, length, speed float64, kind uint8, k, npshr float64) {
		in := suction.Inlet{GaugePa: gauge, AirPa: air, VapourPa: vapour, DensityKgM3: rho, VelocityMS: v, GaugeHeightM: height}
		line := suction.Line{LengthM: length, VelocityMS: v, SpeedHz: speed, Pump: suction.PumpKind(kind), LiquidK: k}
		r, err := suction.NewRequired([]suction.Point{{SpeedHz: 10, NPSHRM: npshr}})
		if err != nil {
			r = suction.Required{}
		}
		num := func(name string, v float64, ok bool) {
			if math.IsNaN(v) || math.IsInf(v, 0) || (!ok && v != 0) {
				t.Errorf("%s gave %g, ok %v", name, v, ok)
			}
		}
		x, ok := suction.AvailableM(in)
		num("AvailableM", x, ok)
		x, ok = suction.VelocityHeadM(v)
		num("VelocityHeadM", x, ok)
		a, ok := suction.Accelerate(line)
		num("Accelerate", a.HeadM, ok)
		x, basis := r.AtM(speed)
		num("AtM", x, basis != suction.NoBasis)
	})
}
