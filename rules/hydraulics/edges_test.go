package hydraulics_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/hydraulics"
)

// Source of all rows: the documented ranges.
func TestRefusals(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	change := func(f func(p *hydraulics.Pipe, w *hydraulics.Water, q *float64)) bool {
		p, w, q := hose, cool, 6e-4
		f(&p, &w, &q)
		l, ok := hydraulics.PipeLoss(p, w, q)
		if !ok {
			require.Zero(t, l)
		}
		return ok
	}
	for _, c := range []struct {
		name string
		edit func(p *hydraulics.Pipe, w *hydraulics.Water, q *float64)
		want bool
	}{
		{"as it is", func(*hydraulics.Pipe, *hydraulics.Water, *float64) {}, true},
		{"no flow", func(_ *hydraulics.Pipe, _ *hydraulics.Water, q *float64) { *q = 0 }, true},
		{"no length", func(p *hydraulics.Pipe, _ *hydraulics.Water, _ *float64) { p.LengthM = 0 }, true},
		{"backward flow", func(_ *hydraulics.Pipe, _ *hydraulics.Water, q *float64) { *q = -1e-4 }, false},
		{"flow NaN", func(_ *hydraulics.Pipe, _ *hydraulics.Water, q *float64) { *q = nan }, false},
		{"flow beyond the chart", func(_ *hydraulics.Pipe, _ *hydraulics.Water, q *float64) { *q = 1e4 }, false},
		{"length Inf", func(p *hydraulics.Pipe, _ *hydraulics.Water, _ *float64) { p.LengthM = inf }, false},
		{"no bore", func(p *hydraulics.Pipe, _ *hydraulics.Water, _ *float64) { p.BoreM = 0 }, false},
		{"too rough", func(p *hydraulics.Pipe, _ *hydraulics.Water, _ *float64) { p.RoughnessM = 0.051 * p.BoreM }, false},
		{"K below 0", func(p *hydraulics.Pipe, _ *hydraulics.Water, _ *float64) { p.MinorK = -1 }, false},
		{"no density", func(_ *hydraulics.Pipe, w *hydraulics.Water, _ *float64) { w.DensityKgM3 = 0 }, false},
		{"viscosity NaN", func(_ *hydraulics.Pipe, w *hydraulics.Water, _ *float64) { w.ViscosityPaS = nan }, false},
	} {
		require.Equal(t, c.want, change(c.edit), c.name)
	}
	_, ok := hydraulics.FlowForLoss(hose, cool, 1e30)
	require.False(t, ok, "a loss that no flow on the chart makes")
	_, ok = hydraulics.FlowForLoss(hydraulics.Pipe{BoreM: 0.02}, cool, 10)
	require.False(t, ok, "a line that loses nothing")
	q, ok := hydraulics.FlowForLoss(hose, cool, 0)
	require.True(t, ok)
	require.Zero(t, q)
}

func TestRegimeNames(t *testing.T) {
	for re, want := range map[float64]string{2300: "laminar", 2301: "transition", 4000: "turbulent", 0: "unknown"} {
		_, regime, ok := hydraulics.Friction(re, 0)
		require.Equal(t, re > 0, ok)
		require.Equal(t, want, regime.String())
	}
}

// finite fails on an answer that is no number, and on a refusal that carries one.
func finite(t *testing.T, name string, v float64, ok bool) {
	t.Helper()
	if ok && (math.IsNaN(v) || math.IsInf(v, 0) || v < 0) {
		t.Errorf("%s answered %g", name, v)
	}
	if !ok && v != 0 {
		t.Errorf("%s refused and still gave %g", name, v)
	}
}

func FuzzHydraulics(f *testing.F) {
	f.Add(15.0, 0.019, 1e-5, 3.0, 998.0, 1e-3, 6e-4)
	f.Add(0.0, 1.0, 0.0, 0.0, 1.0, 1.0, 0.0)
	f.Add(1e300, 1e-300, 1e-310, 1e300, 1e300, 5e-324, 1e-300)
	f.Add(math.NaN(), math.Inf(1), -1.0, math.Inf(-1), math.Copysign(0, -1), math.MaxFloat64, 5e-324)
	f.Fuzz(func(t *testing.T, length, bore, rough, k, rho, mu, x float64) {
		p := hydraulics.Pipe{LengthM: length, BoreM: bore, RoughnessM: rough, MinorK: k}
		w := hydraulics.Water{DensityKgM3: rho, ViscosityPaS: mu}
		v, ok := hydraulics.VelocityMS(x, bore)
		finite(t, "VelocityMS", v, ok)
		v, ok = hydraulics.Reynolds(x, bore, w)
		finite(t, "Reynolds", v, ok)
		v, _, ok = hydraulics.Friction(x, rough)
		finite(t, "Friction", v, ok)
		v, ok = hydraulics.LaminarFriction(x)
		finite(t, "LaminarFriction", v, ok)
		v, ok = hydraulics.MinorLossPa(k, rho, x)
		finite(t, "MinorLossPa", v, ok)
		l, ok := hydraulics.PipeLoss(p, w, x)
		for _, v := range []float64{l.Pa, l.FrictionPa, l.MinorPa, l.VelocityMS, l.Re, l.Friction} {
			finite(t, "PipeLoss", v, ok)
		}
		v, ok = hydraulics.FlowForLoss(p, w, x)
		finite(t, "FlowForLoss", v, ok)
	})
}
