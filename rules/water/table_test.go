package water_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/water"
)

// tableBound is the documented relative error of Table against Props.
const tableBound = 2e-5

// tableError is the worst error of one state; the enthalpy counts against
// 1e5 J/kg, so that 2e-5 of it are the documented 2 J/kg.
func tableError(t require.TestingT, tab *water.Table, k, pa float64) float64 {
	want, ok := water.Props(k, pa)
	require.True(t, ok)
	got, ok := tab.At(k, pa)
	require.True(t, ok)
	require.Equal(t, want.SatPressurePa, got.SatPressurePa)
	rel := func(w, g float64) float64 { return math.Abs(g-w) / w }
	return max(rel(want.DensityKgM3, got.DensityKgM3),
		rel(want.SpecificHeatJKgK, got.SpecificHeatJKgK),
		rel(want.SoundSpeedMS, got.SoundSpeedMS),
		rel(want.ViscosityPaS, got.ViscosityPaS),
		math.Abs(got.EnthalpyJKg-want.EnthalpyJKg)/1e5)
}

// TestTableErrorBound visits quarter steps of the mesh, where the error of
// straight lines is largest, over the whole range of pressure.
func TestTableErrorBound(t *testing.T) {
	tab, worst, at := water.NewTable(), 0.0, 0.0
	for i := 0; i <= 800; i++ {
		k := 273.15 + 0.125*float64(i)
		sat, ok := water.SatPressurePa(k)
		require.True(t, ok)
		for j := 0; j <= 10; j++ {
			pa := min(sat+(1e6-sat)*float64(j)/10, 1e6)
			if d := tableError(t, tab, k, pa); d > worst {
				worst, at = d, k
			}
		}
	}
	t.Logf("worst error %.3g at %.3f K", worst, at)
	require.LessOrEqual(t, worst, tableBound)
}

func TestTableErrorBoundAnywhere(t *testing.T) {
	tab := water.NewTable()
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.Float64Range(273.15, 373.15).Draw(t, "tempK")
		sat, _ := water.SatPressurePa(k)
		pa := rapid.Float64Range(sat, 1e6).Draw(t, "absPa")
		require.LessOrEqual(t, tableError(t, tab, k, pa), tableBound)
	})
}

func TestTableRefuses(t *testing.T) {
	tab := water.NewTable()
	for _, c := range [][2]float64{
		{273.14, 3e5}, {373.16, 3e5}, {288.15, 1.01e6}, {373.15, 101325}, {333.15, 15e3},
		{math.NaN(), 3e5}, {288.15, math.NaN()}, {math.Inf(1), 3e5}, {288.15, math.Inf(-1)},
	} {
		p, ok := tab.At(c[0], c[1])
		require.False(t, ok, c)
		require.Zero(t, p)
	}
	_, ok := tab.At(373.15, 1e6)
	require.True(t, ok, "the last corner belongs to the range")
	_, ok = new(water.Table).At(288.15, 3e5)
	require.False(t, ok, "an unbuilt table knows nothing")
	_, ok = (*water.Table)(nil).At(288.15, 3e5)
	require.False(t, ok, "no table knows nothing")
}
