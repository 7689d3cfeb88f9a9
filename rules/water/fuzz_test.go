package water_test

import (
	"math"
	"testing"

	"headroom/rules/water"
)

// FuzzProperties holds over all of float64: a finite positive number, or a
// refusal.
func FuzzProperties(f *testing.F) {
	for _, s := range [][2]float64{
		{288.15, 3e5}, {273.15, 611.2126774}, {623.15, 100e6}, {373.15, 101325},
		{0, 0}, {-1, -1}, {math.NaN(), 1}, {math.Inf(1), math.Inf(-1)}, {647.096, 22.064e6}, {650.17534844798, 1e6},
	} {
		f.Add(s[0], s[1])
	}
	tab := water.NewTable()
	f.Fuzz(func(t *testing.T, a, b float64) {
		check := func(name string, v float64, ok bool) {
			if math.IsNaN(v) || math.IsInf(v, 0) || (!ok && v != 0) {
				t.Fatalf("%s(%v, %v) = %v, %v", name, a, b, v, ok)
			}
		}
		positive := func(name string, v float64, ok bool) {
			check(name, v, ok)
			if ok && v <= 0 {
				t.Fatalf("%s(%v, %v) = %v, not positive", name, a, b, v)
			}
		}
		for name, fn := range liquidFuncs {
			v, ok := fn(a, b)
			if name == "EnthalpyJKg" {
				check(name, v, ok)
				continue
			}
			positive(name, v, ok)
		}
		v, ok := water.SatPressurePa(a)
		positive("SatPressurePa", v, ok)
		v, ok = water.SatTempK(a)
		positive("SatTempK", v, ok)
		v, ok = water.ViscosityAtDensityPaS(a, b)
		positive("ViscosityAtDensityPaS", v, ok)
		for _, fn := range []func(k, pa float64) (water.Properties, bool){water.Props, tab.At} {
			p, ok := fn(a, b)
			check("enthalpy", p.EnthalpyJKg, ok)
			positive("density", p.DensityKgM3, ok)
			positive("heat", p.SpecificHeatJKgK, ok)
			positive("sound", p.SoundSpeedMS, ok)
			positive("viscosity", p.ViscosityPaS, ok)
		}
	})
}
