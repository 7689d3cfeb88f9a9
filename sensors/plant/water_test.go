package plant

import (
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/hydraulics"
	"headroom/rules/water"
)

// TestWaterAgainstRules holds the plant's textbook correlations against the
// formulation that the rules use. Neither is made from the other.
func TestWaterAgainstRules(t *testing.T) {
	for c := 1.0; c <= 95; c++ {
		k := iceK + c
		p, ok := water.Props(k, 200e3)
		require.True(t, ok)
		require.InEpsilon(t, p.SatPressurePa, vapourAbsPa(k), 0.01, "vapour pressure at %v C", c)
		require.InEpsilon(t, p.ViscosityPaS, viscosityPaS(k), 0.03, "viscosity at %v C", c)
		require.InEpsilon(t, p.SpecificHeatJKgK, heatJKgK, 0.01, "heat capacity at %v C", c)
	}
}

// TestHoseAgainstRules compares the hose's friction with the Colebrook formula
// of the rules. Blasius is for smooth pipes up to Reynolds 1e5 (textbook).
func TestHoseAgainstRules(t *testing.T) {
	h := newHose(15, 0.01905)
	for _, lpm := range []float64{0.5, 1, 1.5, 4, 7.6, 15, 30, 60} {
		q := lpm / 60_000
		mu := viscosityPaS(288.15)
		l := h.at(q, mu)
		want, ok := hydraulics.PipeLoss(hydraulics.Pipe{LengthM: 15, BoreM: 0.01905}, hydraulics.Water{DensityKgM3: densityKgM3, ViscosityPaS: mu}, q)
		require.True(t, ok)
		require.InEpsilon(t, want.Pa, l.lin*q+l.quad*q*q, 0.03, "%v L/min", lpm)
	}
}

// TestLine: the flow that a drop drives costs that drop.
func TestLine(t *testing.T) {
	for _, l := range []line{{lin: 1e8}, {quad: 1e12}, {lin: 3e7, quad: 5e11}, orifice(1e-6)} {
		for _, drop := range []float64{1e-3, 1, 1e3, 1e7} {
			q := l.flow(drop)
			require.InEpsilon(t, drop, l.lin*q+l.quad*q*q, 1e-9)
		}
		require.Zero(t, l.flow(-1))
	}
}
