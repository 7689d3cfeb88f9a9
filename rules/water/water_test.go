package water_test

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
	"headroom/rules/water"
)

func TestChecks(t *testing.T) { checktest.Run(t, water.Checks()) }

// TestRefuses shows that a state in which there is no liquid gives no number.
func TestRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		name, source string
		tempK, absPa float64
		ok           bool
	}{
		{"tap water", "R7-97 region 1", 288.15, 3e5, true},
		{"100 C at one atmosphere is steam", "R7-97: saturation at 99.974 C", 373.15, 101325, false},
		{"99.97 C at one atmosphere is liquid", "R7-97: saturation at 99.974 C", 373.12, 101325, true},
		{"60 C under 15 kPa boils", "R7-97: saturation pressure 19.946 kPa", 333.15, 15e3, false},
		{"60 C under 20 kPa is liquid", "R7-97: saturation pressure 19.946 kPa", 333.15, 20e3, true},
		{"below 273.15 K", "R7-97 section 4", 273.14, 3e5, false},
		{"corner of the range", "R7-97 section 4", 623.15, 100e6, true},
		{"too hot", "R7-97 section 4", 623.16, 100e6, false},
		{"too much pressure", "R7-97 section 4", 300, 100.1e6, false},
		{"gauge pressure taken for absolute", "a vacuum below nothing", 288.15, -2e4, false},
		{"no temperature", "", nan, 3e5, false},
		{"no pressure", "", 288.15, nan, false},
		{"infinite", "", 288.15, inf, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, ok := water.Props(c.tempK, c.absPa)
			require.Equal(t, c.ok, ok)
			if !ok {
				require.Zero(t, p)
			}
			for name, f := range liquidFuncs {
				v, ok := f(c.tempK, c.absPa)
				require.Equal(t, c.ok, ok, name)
				if !ok {
					require.Zero(t, v, name)
				}
			}
		})
	}
}

var liquidFuncs = map[string]func(tempK, absPa float64) (float64, bool){
	"DensityKgM3":        water.DensityKgM3,
	"SpecificVolumeM3Kg": water.SpecificVolumeM3Kg,
	"SpecificHeatJKgK":   water.SpecificHeatJKgK,
	"EnthalpyJKg":        water.EnthalpyJKg,
	"SoundSpeedMS":       water.SoundSpeedMS,
	"ViscosityPaS":       water.ViscosityPaS,
}

func TestSaturationBounds(t *testing.T) {
	for _, k := range []float64{273.15, 647.096} {
		_, ok := water.SatPressurePa(k)
		require.True(t, ok, k)
	}
	for _, k := range []float64{273.149, 647.097, math.NaN(), math.Inf(1), -1} {
		v, ok := water.SatPressurePa(k)
		require.False(t, ok, k)
		require.Zero(t, v)
	}
	for _, pa := range []float64{611, 22.065e6, math.NaN(), math.Inf(1), -1, 0} {
		v, ok := water.SatTempK(pa)
		require.False(t, ok, pa)
		require.Zero(t, v)
	}
}

// drawLiquid draws a state of the liquid region.
func drawLiquid(t *rapid.T) (tempK, absPa float64) {
	tempK = rapid.Float64Range(273.15, 623.15).Draw(t, "tempK")
	sat, ok := water.SatPressurePa(tempK)
	require.True(t, ok)
	return tempK, rapid.Float64Range(sat, 100e6).Draw(t, "absPa")
}

func TestSaturationRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.Float64Range(273.15, 647.09).Draw(t, "tempK")
		pa, ok := water.SatPressurePa(k)
		require.True(t, ok)
		back, ok := water.SatTempK(pa)
		require.True(t, ok)
		require.InDelta(t, k, back, 1e-6)
		more, _ := water.SatPressurePa(k + 1e-3)
		require.Greater(t, more, pa, "hotter water boils at a higher pressure")
	})
}

// TestThermodynamicIdentities checks relations that hold for any fluid and
// were not used to write the code: dh = cp dT at constant pressure, and
// dh/dp at constant temperature = v - T dv/dT.
func TestThermodynamicIdentities(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k, pa := drawLiquid(t)
		if k < 274 || k > 620 || pa > 99e6 {
			return
		}
		sat, _ := water.SatPressurePa(k + 0.1)
		if pa < sat+2e4 {
			return
		}
		get := func(k, pa float64) water.Properties {
			p, ok := water.Props(k, pa)
			require.True(t, ok)
			return p
		}
		const dT, dp = 0.05, 1e4
		hot, cold := get(k+dT, pa), get(k-dT, pa)
		require.InEpsilon(t, get(k, pa).SpecificHeatJKgK, (hot.EnthalpyJKg-cold.EnthalpyJKg)/(2*dT), 1e-5)
		up, down := get(k, pa+dp), get(k, pa-dp)
		v := 1 / get(k, pa).DensityKgM3
		slope := (1/hot.DensityKgM3 - 1/cold.DensityKgM3) / (2 * dT)
		require.InDelta(t, v-k*slope, (up.EnthalpyJKg-down.EnthalpyJKg)/(2*dp), 1e-4*v)
	})
}

// TestSoundSpeedFromCompression checks w2 = v2/(-dv/dp at constant entropy),
// with the isentropic slope from the isothermal one and cp.
func TestSoundSpeedFromCompression(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k, pa := drawLiquid(t)
		sat, _ := water.SatPressurePa(min(k+0.1, 623))
		if k < 274 || k > 600 || pa > 99e6 || pa < sat+2e5 {
			return
		}
		v := func(k, pa float64) float64 { r, _ := water.SpecificVolumeM3Kg(k, pa); return r }
		cp, _ := water.SpecificHeatJKgK(k, pa)
		w, _ := water.SoundSpeedMS(k, pa)
		vT := (v(k+0.05, pa) - v(k-0.05, pa)) / 0.1
		vp := (v(k, pa+1e5) - v(k, pa-1e5)) / 2e5
		isentropic := vp + k*vT*vT/cp
		require.InEpsilon(t, w, v(k, pa)/math.Sqrt(-isentropic), 1e-4)
	})
}

func TestLiquidTrends(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.Float64Range(278, 360).Draw(t, "tempK")
		pa := rapid.Float64Range(1e5, 1e6).Draw(t, "absPa")
		a, ok := water.Props(k, pa)
		require.True(t, ok)
		b, ok := water.Props(k+1, pa)
		require.True(t, ok)
		require.Less(t, b.DensityKgM3, a.DensityKgM3, "above 4 C warm water is lighter")
		require.Less(t, b.ViscosityPaS, a.ViscosityPaS, "warm water is thinner")
		require.Greater(t, b.EnthalpyJKg, a.EnthalpyJKg)
		c, _ := water.Props(k, pa+1e4)
		require.Greater(t, c.DensityKgM3, a.DensityKgM3, "pressure compresses")
	})
}

func TestPropsAgreesWithSingleFunctions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k, pa := drawLiquid(t)
		p, ok := water.Props(k, pa)
		require.True(t, ok)
		one := func(f func(a, b float64) (float64, bool)) float64 {
			v, ok := f(k, pa)
			require.True(t, ok)
			return v
		}
		sat, _ := water.SatPressurePa(k)
		require.Equal(t, sat, p.SatPressurePa)
		require.Equal(t, one(water.DensityKgM3), p.DensityKgM3)
		require.Equal(t, one(water.SpecificHeatJKgK), p.SpecificHeatJKgK)
		require.Equal(t, one(water.EnthalpyJKg), p.EnthalpyJKg)
		require.Equal(t, one(water.SoundSpeedMS), p.SoundSpeedMS)
		require.Equal(t, one(water.ViscosityPaS), p.ViscosityPaS)
		require.InEpsilon(t, one(water.SpecificVolumeM3Kg), p.SpecificVolumeM3Kg(), 1e-15)
		require.InEpsilon(t, p.ViscosityPaS/p.DensityKgM3, p.KinematicViscosityM2S(), 1e-15)
	})
	require.Zero(t, water.Properties{}.KinematicViscosityM2S())
	require.Zero(t, water.Properties{}.SpecificVolumeM3Kg())
}

// TestStoredGrid compares with grids of an independent library, nine digits.
func TestStoredGrid(t *testing.T) {
	rows := 0
	for _, name := range []string{"water_if97_C.csv", "water_if97_F.csv"} {
		f, err := os.Open(testneed.Shared(t, "reference", name))
		require.NoError(t, err)
		defer f.Close()
		lines, err := csv.NewReader(f).ReadAll()
		require.NoError(t, err)
		for _, l := range lines[1:] {
			n := make([]float64, 13)
			for i := range n {
				n[i], err = strconv.ParseFloat(l[i], 64)
				require.NoError(t, err)
			}
			p, ok := water.Props(n[2], n[3]*1e6)
			require.Equal(t, l[13] == "", ok, l)
			if !ok {
				continue
			}
			rows++
			require.InEpsilon(t, n[4]*1e6, p.SatPressurePa, 1e-4, l)
			require.InEpsilon(t, n[7], p.DensityKgM3, 1e-4, l)
			require.InEpsilon(t, n[8], p.ViscosityPaS, 1e-4, l)
			require.InEpsilon(t, n[9], p.KinematicViscosityM2S(), 1e-4, l)
			require.InEpsilon(t, n[10]*1e3, p.SpecificHeatJKgK, 1e-4, l)
			require.InDelta(t, n[11]*1e3, p.EnthalpyJKg, 1e-4*math.Max(n[11]*1e3, 4200), l)
			require.InEpsilon(t, n[12], p.SoundSpeedMS, 1e-4, l)
		}
	}
	require.Greater(t, rows, 70)
}
