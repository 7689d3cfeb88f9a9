package suction_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/check/checktest"
	"headroom/rules/suction"
)

func TestChecks(t *testing.T) { checktest.Run(t, suction.Checks()) }

var (
	tap  = suction.Inlet{GaugePa: 250e3, AirPa: 101325, VapourPa: 2339, DensityKgM3: 998.2, VelocityMS: 2.2}
	hose = suction.Line{LengthM: 15, VelocityMS: 2.2, SpeedHz: 24, Pump: suction.Triplex, LiquidK: suction.KWater, Elastic: true}
	pipe = suction.Line{LengthM: 1, VelocityMS: 2.2, SpeedHz: 24, Pump: suction.Triplex, LiquidK: suction.KWater}
)

func plate(t require.TestingT, points ...suction.Point) suction.Required {
	r, err := suction.NewRequired(points)
	require.NoError(t, err)
	return r
}

// A hose of 50 ft behind a fast triplex: the bound is absurd, about 200 m, and
// said to be one. Source: the formula worked by hand,
// 15 x 2.2 x 1440 x 0.066 / (1.5 x 9.80665) = 213.2 m.
func TestHoseBoundIsAbsurdAndSaidSo(t *testing.T) {
	a, ok := suction.Accelerate(hose)
	require.True(t, ok)
	require.True(t, a.UpperBound)
	require.InDelta(t, 213.2, a.HeadM, 0.1)
}

// Source of all rows: the documented meaning of the bases.
func TestBasis(t *testing.T) {
	known := plate(t, suction.Point{SpeedHz: 10, NPSHRM: 2}, suction.Point{SpeedHz: 30, NPSHRM: 4})
	for _, c := range []struct {
		name    string
		r       suction.Required
		speedHz float64
		want    suction.Basis
	}{
		{"between the points", known, 24, suction.FromPoints},
		{"slower than the plate", known, 5, suction.FromSlowest},
		{"faster than the plate", known, 31, suction.NoBasis},
		{"nothing on the plate", suction.Required{}, 24, suction.FromAssumption},
	} {
		_, basis := c.r.AtM(c.speedHz)
		require.Equal(t, c.want, basis, c.name)
	}
	kindless, vacuum := pipe, tap
	kindless.Pump, vacuum.GaugePa = suction.UnknownPump, -101326
	_, ok := suction.Accelerate(kindless)
	require.False(t, ok)
	_, ok = suction.AvailableM(vacuum)
	require.False(t, ok, "below full vacuum")
}

// marginOf is the margin of water, line and pump together.
func marginOf(t require.TestingT, in suction.Inlet, l suction.Line, r suction.Required) float64 {
	available, ok := suction.AvailableM(in)
	require.True(t, ok)
	a, ok := suction.Accelerate(l)
	require.True(t, ok)
	need, basis := r.AtM(l.SpeedHz)
	require.NotEqual(t, suction.NoBasis, basis)
	return suction.MarginM(available, a.HeadM, need)
}

func TestLongRigidLineIsABound(t *testing.T) {
	line := pipe
	for length, want := range map[float64]bool{suction.RigidLineMaxM: false, 15.01: true} {
		line.LengthM = length
		a, ok := suction.Accelerate(line)
		require.True(t, ok)
		require.Equal(t, want, a.UpperBound)
	}
}

func TestPointsThatAreRefused(t *testing.T) {
	many := make([]suction.Point, suction.MaxPoints+1)
	for i := range many {
		many[i] = suction.Point{SpeedHz: float64(i + 1), NPSHRM: 1}
	}
	for _, c := range []struct {
		name, want string
		points     []suction.Point
	}{
		{"none", "cannot use 0 points", nil},
		{"too many", "cannot use 17 points", many},
		{"not sorted", "sort the points", []suction.Point{{SpeedHz: 2, NPSHRM: 1}, {SpeedHz: 1, NPSHRM: 2}}},
		{"the same speed twice", "sort the points", []suction.Point{{SpeedHz: 2, NPSHRM: 1}, {SpeedHz: 2, NPSHRM: 2}}},
		{"falling", "never falling", []suction.Point{{SpeedHz: 1, NPSHRM: 2}, {SpeedHz: 2, NPSHRM: 1}}},
		{"no head", "point 1", []suction.Point{{SpeedHz: 1}}},
		{"NaN", "point 1", []suction.Point{{SpeedHz: math.NaN(), NPSHRM: 1}}},
		{"rev/min for rev/s", "point 1", []suction.Point{{SpeedHz: 1450, NPSHRM: 1}}},
	} {
		_, err := suction.NewRequired(c.points)
		require.ErrorContains(t, err, c.want, c.name)
	}
	full, err := suction.NewRequired(many[:suction.MaxPoints])
	require.NoError(t, err)
	m, basis := full.AtM(16)
	require.Equal(t, suction.FromPoints, basis)
	require.Equal(t, 1.0, m)
}

// Each physical direction: what helps raises the margin and what hurts lowers it.
func TestDirections(t *testing.T) {
	r := plate(t, suction.Point{SpeedHz: 5, NPSHRM: 2}, suction.Point{SpeedHz: 40, NPSHRM: 6})
	rapid.Check(t, func(t *rapid.T) {
		in := tap
		in.GaugePa = rapid.Float64Range(-9e4, 6e5).Draw(t, "gauge")
		line := hose
		line.SpeedHz = rapid.Float64Range(6, 38).Draw(t, "speed")
		base := marginOf(t, in, line, r)
		more := func(edit func(in *suction.Inlet, l *suction.Line)) float64 {
			i, l := in, line
			edit(&i, &l)
			return marginOf(t, i, l, r)
		}
		require.Greater(t, more(func(i *suction.Inlet, _ *suction.Line) { i.GaugePa += 100 }), base)
		require.Greater(t, more(func(i *suction.Inlet, _ *suction.Line) { i.AirPa += 100 }), base)
		require.Greater(t, more(func(i *suction.Inlet, _ *suction.Line) { i.GaugeHeightM += 0.1 }), base)
		require.Less(t, more(func(i *suction.Inlet, _ *suction.Line) { i.VapourPa += 100 }), base)
		require.Less(t, more(func(_ *suction.Inlet, l *suction.Line) { l.LengthM += 0.1 }), base)
		require.Less(t, more(func(_ *suction.Inlet, l *suction.Line) { l.SpeedHz += 0.5 }), base)
		require.Greater(t, more(func(_ *suction.Inlet, l *suction.Line) { l.LiquidK += 0.1 }), base)
	})
}

// The inverse questions, put back, leave no margin.
func TestInversesComeBack(t *testing.T) {
	r := plate(t, suction.Point{SpeedHz: 5, NPSHRM: 2}, suction.Point{SpeedHz: 40, NPSHRM: 6})
	rapid.Check(t, func(t *rapid.T) {
		in, line := tap, pipe
		in.GaugePa = rapid.Float64Range(-9e4, 6e5).Draw(t, "gauge")
		in.GaugeHeightM = rapid.Float64Range(-2, 2).Draw(t, "height")
		line.SpeedHz = rapid.Float64Range(1, 40).Draw(t, "speed")
		now := marginOf(t, in, line, r)
		if now > 0 { // else no vapour pressure of 0 or more may answer
			at := in
			at.VapourPa = suction.VapourPressureAtLimitPa(in.VapourPa, now, in.DensityKgM3)
			require.InDelta(t, 0, marginOf(t, at, line, r), 1e-9)
		}
		at := in
		at.GaugePa = suction.GaugeAtLimitPa(in.GaugePa, now, in.DensityKgM3)
		if at.GaugePa >= -in.AirPa {
			require.InDelta(t, 0, marginOf(t, at, line, r), 1e-9)
		}
	})
}

func TestNPSHRRisesWithSpeedAndKeepsWithinPoints(t *testing.T) {
	r := plate(t, suction.Point{SpeedHz: 5, NPSHRM: 2}, suction.Point{SpeedHz: 11, NPSHRM: 2.5}, suction.Point{SpeedHz: 40, NPSHRM: 6})
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(0, 40).Draw(t, "a")
		b := rapid.Float64Range(a, 40).Draw(t, "b")
		ma, _ := r.AtM(a)
		mb, _ := r.AtM(b)
		require.LessOrEqual(t, ma, mb)
		require.GreaterOrEqual(t, ma, 2.0)
		require.LessOrEqual(t, mb, 6.0)
	})
}

// A gauge that the air, the vapour and a vacuum leave nothing gives a true
// negative head; source: the definition, -1 m of water each.
func TestBoilingWaterIsNegative(t *testing.T) {
	m, ok := suction.AvailableM(suction.Inlet{GaugePa: -90e3, AirPa: 100e3, VapourPa: 10e3 + 9806.65, DensityKgM3: 1000})
	require.True(t, ok)
	require.InDelta(t, -1, m, 1e-12)
}

func TestNames(t *testing.T) {
	for k := suction.UnknownPump; k <= suction.Septuplex; k++ {
		require.Equal(t, k == suction.UnknownPump, k.String() == "unknown")
	}
	require.Equal(t, "no answer", suction.NoBasis.String())
	require.Equal(t, "the pump's points", suction.FromPoints.String())
	require.Equal(t, "the pump's slowest point", suction.FromSlowest.String())
	require.Equal(t, "an assumption", suction.FromAssumption.String())
}
