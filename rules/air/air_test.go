package air_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/deploy/testneed"
	"headroom/rules/air"
	"headroom/rules/check/checktest"
)

func TestChecks(t *testing.T) { checktest.Run(t, air.Checks()) }

func TestRefuses(t *testing.T) {
	for _, c := range []struct {
		altM   float64
		ok     bool
		source string
	}{
		{-500, true, "package range"},
		{11000, true, "US 1976, top of the layer"},
		{-500.1, false, "package range"},
		{11000.1, false, "US 1976, next layer"},
		{math.NaN(), false, ""},
		{math.Inf(1), false, ""},
		{math.Inf(-1), false, ""},
	} {
		for _, f := range []func(float64) (float64, bool){
			air.PressureAtGeometricPa, air.PressureAtGeopotentialPa, air.GeopotentialM,
		} {
			v, ok := f(c.altM)
			require.Equal(t, c.ok, ok, c.altM)
			if !ok {
				require.Zero(t, v)
			}
		}
	}
}

// TestStoredTable compares with a table computed elsewhere, in hundredths of a
// pascal.
func TestStoredTable(t *testing.T) {
	f, err := os.Open(testneed.Shared(t, "reference", "atmosphere_m.csv"))
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(lines), 15)
	for _, l := range lines[1:] {
		var n [3]float64
		for i := range n {
			n[i], err = strconv.ParseFloat(l[i], 64)
			require.NoError(t, err)
		}
		p, ok := air.PressureAtGeopotentialPa(n[0])
		require.True(t, ok)
		require.InDelta(t, n[1], p, 0.0051)
		p, ok = air.PressureAtGeometricPa(n[0])
		require.True(t, ok)
		require.InDelta(t, n[2], p, 0.0051)
	}
}

// TestHydrostatic checks dp/dH = -rho g with the density of the ideal gas at
// the standard temperature: the law the formula is integrated from.
func TestHydrostatic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := rapid.Float64Range(-499, 10999).Draw(t, "h")
		up, _ := air.PressureAtGeopotentialPa(h + 0.5)
		down, _ := air.PressureAtGeopotentialPa(h - 0.5)
		p, ok := air.PressureAtGeopotentialPa(h)
		require.True(t, ok)
		rho := p * 28.9644 / (8314.32 * (288.15 - 0.0065*h))
		require.InEpsilon(t, -rho*9.80665, up-down, 1e-6)
		z, ok := air.PressureAtGeometricPa(h)
		require.True(t, ok)
		require.GreaterOrEqual(t, z, p, "gravity falls with height, so less air weighs below")
	})
}

func FuzzPressure(f *testing.F) {
	for _, v := range []float64{0, -500, 11000, 1e300, math.NaN(), math.Inf(1)} {
		f.Add(v)
	}
	f.Fuzz(func(t *testing.T, altM float64) {
		for _, fn := range []func(float64) (float64, bool){air.PressureAtGeometricPa, air.PressureAtGeopotentialPa} {
			p, ok := fn(altM)
			if ok && !(p > 22000 && p < 108000) || !ok && p != 0 {
				t.Fatalf("%v gave %v, %v", altM, p, ok)
			}
		}
	})
}

var sink float64

func BenchmarkPressureAtGeometric(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		sink, _ = air.PressureAtGeometricPa(1609)
	}
}
