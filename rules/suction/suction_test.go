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

// Source of all rows: the documented meaning of the statuses.
func TestStatus(t *testing.T) {
	known := plate(t, suction.Point{SpeedHz: 10, NPSHRM: 2}, suction.Point{SpeedHz: 30, NPSHRM: 4})
	fast, slow, kindless := pipe, pipe, pipe
	fast.SpeedHz, slow.SpeedHz, kindless.Pump = 31, 5, suction.UnknownPump
	vacuum := tap
	vacuum.GaugePa = -101326
	for _, c := range []struct {
		name  string
		in    suction.Inlet
		line  suction.Line
		r     suction.Required
		want  suction.Status
		basis suction.Basis
		bound bool
	}{
		{"all known, short and rigid", tap, pipe, known, suction.OK, suction.FromPoints, false},
		{"elastic hose", tap, hose, known, suction.UpperBoundAcceleration, suction.FromPoints, true},
		{"nothing on the plate", tap, pipe, suction.Required{}, suction.AssumedNPSHR, suction.FromAssumption, false},
		{"nothing on the plate and a hose", tap, hose, suction.Required{}, suction.AssumedNPSHR, suction.FromAssumption, true},
		{"slower than the plate", tap, slow, known, suction.OK, suction.FromSlowest, false},
		{"faster than the plate", tap, fast, known, suction.OutsideRange, suction.NoBasis, false},
		{"kind of pump not known", tap, kindless, known, suction.OutsideRange, suction.NoBasis, false},
		{"below full vacuum", vacuum, pipe, known, suction.OutsideRange, suction.NoBasis, false},
	} {
		m := suction.FindMargin(c.in, c.line, c.r)
		require.Equal(t, c.want, m.Status, c.name)
		require.Equal(t, c.basis, m.Basis, c.name)
		require.Equal(t, c.bound, m.UpperBound, c.name)
		if c.want == suction.OutsideRange {
			require.Zero(t, m, c.name)
		}
	}
}

// A hose of 50 ft behind a fast triplex: the bound is absurd, about 200 m, and
// only HighM can be judged. Source: the formula worked by hand,
// 15 x 2.2 x 1440 x 0.066 / (1.5 x 9.80665) = 213.2 m.
func TestHoseBoundIsAbsurdAndSaidSo(t *testing.T) {
	m := suction.FindMargin(tap, hose, plate(t, suction.Point{SpeedHz: 24, NPSHRM: 3}))
	require.Equal(t, suction.UpperBoundAcceleration, m.Status)
	require.InDelta(t, 213.2, m.AccelerationM, 0.1)
	require.Less(t, m.MarginM, -100.0)
	require.Greater(t, m.HighM, 30.0)
	require.InDelta(t, m.AccelerationM, m.HighM-m.MarginM, 1e-9)
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
		base := suction.FindMargin(in, line, r).MarginM
		more := func(edit func(in *suction.Inlet, l *suction.Line)) float64 {
			i, l := in, line
			edit(&i, &l)
			m := suction.FindMargin(i, l, r)
			require.NotEqual(t, suction.OutsideRange, m.Status)
			return m.MarginM
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

// The inverse questions, put back, give the wanted margin.
func TestInversesComeBack(t *testing.T) {
	r := plate(t, suction.Point{SpeedHz: 5, NPSHRM: 2}, suction.Point{SpeedHz: 40, NPSHRM: 6})
	rapid.Check(t, func(t *rapid.T) {
		in, line := tap, pipe
		in.GaugePa = rapid.Float64Range(-9e4, 6e5).Draw(t, "gauge")
		in.GaugeHeightM = rapid.Float64Range(-2, 2).Draw(t, "height")
		line.SpeedHz = rapid.Float64Range(1, 40).Draw(t, "speed")
		wanted := rapid.Float64Range(0, 10).Draw(t, "wanted")
		now := suction.FindMargin(in, line, r).MarginM
		if pa, ok := suction.VapourPressureAtMarginPa(in, line, r, wanted); ok {
			at := in
			at.VapourPa = pa
			require.InDelta(t, wanted, suction.FindMargin(at, line, r).MarginM, 1e-9)
			require.Equal(t, now > wanted, pa > in.VapourPa)
		} else {
			cold := in
			cold.VapourPa = 0
			require.Less(t, suction.FindMargin(cold, line, r).MarginM, wanted)
		}
		if pa, ok := suction.GaugeAtMarginPa(in, line, r, wanted); ok {
			at := in
			at.GaugePa = pa
			require.InDelta(t, wanted, suction.FindMargin(at, line, r).MarginM, 1e-9)
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
	_, ok = suction.GaugeAtMarginPa(suction.Inlet{AirPa: 1e5, DensityKgM3: 1000, GaugeHeightM: 50}, pipe, suction.Required{}, 0)
	require.False(t, ok, "a gauge so high that no vacuum takes the margin")
}

func TestNames(t *testing.T) {
	for k := suction.UnknownPump; k <= suction.Septuplex; k++ {
		require.Equal(t, k == suction.UnknownPump, k.String() == "unknown")
	}
	require.Equal(t, "outside range", suction.OutsideRange.String())
	require.Equal(t, "NPSHR is assumed", suction.AssumedNPSHR.String())
	require.Equal(t, "acceleration head is an upper bound", suction.UpperBoundAcceleration.String())
	require.Equal(t, "ok", suction.OK.String())
	require.Equal(t, "no answer", suction.NoBasis.String())
	require.Equal(t, "the pump's points", suction.FromPoints.String())
	require.Equal(t, "the pump's slowest point", suction.FromSlowest.String())
	require.Equal(t, "an assumption", suction.FromAssumption.String())
}
