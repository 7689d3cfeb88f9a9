package hydraulics_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/deploy/testneed"
	"headroom/rules/check/checktest"
	"headroom/rules/hydraulics"
)

const (
	gpm = 6.30901964e-5
	psi = 6894.757293168361
)

func TestChecks(t *testing.T) { checktest.Run(t, hydraulics.Checks()) }

func readShared(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(testneed.Shared(t, "reference", name))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	return rows[1:]
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

// Source: colebrook.csv, Colebrook-White by 200 fixed-point steps; 8 decimals.
func TestColebrookTable(t *testing.T) {
	for _, r := range readShared(t, "colebrook.csv") {
		f, ok := hydraulics.TurbulentFriction(number(t, r[0]), number(t, r[1]))
		require.True(t, ok)
		require.InDelta(t, number(t, r[2]), f, 0.6e-8, "Re %s, e/D %s", r[0], r[1])
	}
}

// The rows of hose_075in_100ft.csv: the Darcy column has its own density and
// viscosity.
func TestHoseTable(t *testing.T) {
	w := hydraulics.Water{DensityKgM3: 999.1, ViscosityPaS: 999.1 * 1.13e-6}
	hose := hydraulics.Pipe{LengthM: 30.48, BoreM: hydraulics.Bore34InM, RoughnessM: 1.5e-6}
	for _, r := range readShared(t, "hose_075in_100ft.csv") {
		q := number(t, r[0]) * gpm
		l, ok := hydraulics.PipeLoss(hose, w, q)
		require.True(t, ok)
		require.InDelta(t, number(t, r[5]), l.Pa/psi, 0.6e-3, "%s gpm, Darcy", r[0])
		require.InDelta(t, number(t, r[6]), l.VelocityMS/0.3048, 0.6e-4)
		require.InDelta(t, number(t, r[7]), l.Re, 0.6)
	}
}

// The published 3/4 inch table is 1100 (Q/100)^2 per 100 ft, a square law,
// while turbulent loss in a smooth hose goes with about the power 1.8. So it
// is too low where the flow is small and meets Darcy near 20 to 30 gpm. The
// wanted values here are the page's, the bounds what the exponents say: from
// 25 gpm down to 5 the ratio falls by 5^(2-1.8) = 1.38.
func TestSquareLawTableIsLowAtSmallFlow(t *testing.T) {
	w := hydraulics.Water{DensityKgM3: 999.1, ViscosityPaS: 999.1 * 1.13e-6}
	hose := hydraulics.Pipe{LengthM: 30.48, BoreM: hydraulics.Bore34InM, RoughnessM: 1.5e-6}
	ratio := func(q, table float64) float64 {
		l, ok := hydraulics.PipeLoss(hose, w, q*gpm)
		require.True(t, ok)
		return table / (l.Pa / psi)
	}
	small, large := ratio(5, 2.8), ratio(25, 68.8)
	require.Less(t, small, 0.80)
	require.InDelta(t, 1, large, 0.10)
	require.InDelta(t, 1.38, large/small, 0.10)
}

func TestNewtonHasConverged(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		re := math.Pow(10, rapid.Float64Range(math.Log10(4000), 8).Draw(t, "lgRe"))
		re = math.Min(math.Max(re, hydraulics.TurbulentMinRe), hydraulics.MaxRe)
		rel := rapid.Float64Range(0, 0.05).Draw(t, "rel")
		f, ok := hydraulics.TurbulentFriction(re, rel)
		require.True(t, ok)
		x := 1 / math.Sqrt(f)
		require.InDelta(t, 0, x+2*math.Log10(rel/3.7+2.51*x/re), 1e-13*x)
	})
}

func drawPipe(t *rapid.T) hydraulics.Pipe {
	p := hydraulics.Pipe{
		LengthM: rapid.Float64Range(0, 200).Draw(t, "length"),
		BoreM:   rapid.Float64Range(0.003, 0.3).Draw(t, "bore"),
		MinorK:  rapid.Float64Range(0, 50).Draw(t, "K"),
	}
	p.RoughnessM = p.BoreM * rapid.Float64Range(0, 0.049).Draw(t, "rel")
	return p
}

func drawWater(t *rapid.T) hydraulics.Water {
	return hydraulics.Water{
		DensityKgM3:  rapid.Float64Range(950, 1100).Draw(t, "rho"),
		ViscosityPaS: rapid.Float64Range(2e-4, 5e-2).Draw(t, "mu"),
	}
}

func TestLossGrowsWithFlowAndInverts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, w := drawPipe(t), drawWater(t)
		p.LengthM += 0.01
		re := math.Pow(10, rapid.Float64Range(-2, 7.5).Draw(t, "lgRe"))
		q := re * w.ViscosityPaS / (w.DensityKgM3 * p.BoreM) * math.Pi / 4 * p.BoreM * p.BoreM
		a, ok := hydraulics.PipeLoss(p, w, q)
		require.True(t, ok)
		b, ok := hydraulics.PipeLoss(p, w, q*1.0001)
		require.True(t, ok)
		require.Greater(t, b.Pa, a.Pa)
		require.InEpsilon(t, a.Pa, a.FrictionPa+a.MinorPa, 1e-12)
		back, ok := hydraulics.FlowForLoss(p, w, a.Pa)
		require.True(t, ok)
		require.InEpsilon(t, q, back, 1e-9)
	})
}

// Doubling the length doubles the friction and leaves the fittings alone.
func TestLossIsLinearInLengthAndK(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, w := drawPipe(t), drawWater(t)
		p.LengthM++
		q := rapid.Float64Range(1e-6, 1e-3).Draw(t, "q")
		a, ok := hydraulics.PipeLoss(p, w, q)
		if !ok {
			t.Skip("beyond the chart")
		}
		p.LengthM *= 2
		p.MinorK *= 3
		b, ok := hydraulics.PipeLoss(p, w, q)
		require.True(t, ok)
		require.InEpsilon(t, 2*a.FrictionPa, b.FrictionPa, 1e-12)
		require.InDelta(t, 3*a.MinorPa, b.MinorPa, 1e-12*(1+b.MinorPa))
	})
}

func TestTransitionIsContinuousAndRises(t *testing.T) {
	for _, rel := range []float64{0, 1e-4, 1e-3, 0.01, 0.05} {
		for _, edge := range []float64{hydraulics.LaminarMaxRe, hydraulics.TurbulentMinRe} {
			below, _, ok := hydraulics.Friction(math.Nextafter(edge, 0), rel)
			require.True(t, ok)
			above, _, ok := hydraulics.Friction(math.Nextafter(edge, 1e9), rel)
			require.True(t, ok)
			require.InEpsilon(t, below, above, 1e-12)
		}
		last := 0.0
		for re := 100.0; re <= 8000; re += 7 {
			f, regime, ok := hydraulics.Friction(re, rel)
			require.True(t, ok)
			require.Greater(t, f*re*re, last, "Re %g (%s)", re, regime)
			last = f * re * re
		}
	}
}
