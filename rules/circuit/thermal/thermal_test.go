package thermal_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/check/checktest"
	"headroom/rules/circuit/thermal"
)

func TestChecks(t *testing.T) { checktest.Run(t, thermal.Checks()) }

// Source: the differential equation is linear, so a span may be cut anywhere.
// Tolerance: 1e-12 relative, a thousand roundings of 1e-16 and some slack.
func TestStepDoesNotDependOnTheCut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		theta := rapid.Float64Range(0, 50).Draw(t, "theta")
		target := rapid.Float64Range(0, 50).Draw(t, "target")
		tau := rapid.Float64Range(1, 2000).Draw(t, "tau")
		span := rapid.Float64Range(0.1, 3000).Draw(t, "span")
		n := rapid.IntRange(1, 300).Draw(t, "n")
		whole, ok := thermal.Step(theta, target, span, tau)
		require.True(t, ok)
		cut := theta
		for range n {
			cut, _ = thermal.Step(cut, target, span/float64(n), tau)
		}
		require.InDelta(t, whole, cut, 1e-12*math.Max(1, math.Max(theta, target))*math.Max(1, tau/span*10))
	})
}

func TestStepStaysBetweenStartAndTarget(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		theta := rapid.Float64Range(0, thermal.MaxTheta).Draw(t, "theta")
		target := rapid.Float64Range(0, thermal.MaxTheta).Draw(t, "target")
		got, ok := thermal.Step(theta, target, rapid.Float64Range(0, thermal.MaxStepS).Draw(t, "dt"),
			rapid.Float64Range(thermal.MinTauS, thermal.MaxTauS).Draw(t, "tau"))
		require.True(t, ok)
		require.GreaterOrEqual(t, got, math.Min(theta, target))
		require.LessOrEqual(t, got, math.Max(theta, target))
	})
}

func TestTimeToAgreesWithStep(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		theta := rapid.Float64Range(0, 3).Draw(t, "theta")
		target := rapid.Float64Range(0, 3).Draw(t, "target")
		part := rapid.Float64Range(0.01, 0.99).Draw(t, "part")
		tau := rapid.Float64Range(1, 2000).Draw(t, "tau")
		level := theta + float64((target-theta)*part)
		s, ok := thermal.TimeTo(theta, target, level, tau)
		if math.Abs(target-theta) < 1e-6 {
			t.Skip("no change to time")
		}
		require.True(t, ok)
		at, ok := thermal.Step(theta, target, s, tau)
		require.True(t, ok)
		require.InDelta(t, level, at, 1e-9)
	})
}

func TestTimeToRefusesTheUnreachable(t *testing.T) {
	for _, c := range []struct {
		name                 string
		theta, target, level float64
	}{
		{"target below the level", 0, 0.9, 1},
		{"target at the level", 0, 1, 1},
		{"cooling away from a level above", 0.5, 0.2, 0.8},
		{"heating away from a level below", 0.5, 0.9, 0.2},
	} {
		_, ok := thermal.TimeTo(c.theta, c.target, c.level, 100)
		require.False(t, ok, c.name)
	}
	s, ok := thermal.TimeTo(0.7, 0.2, 0.7, 100)
	require.True(t, ok, "a level that is already there takes no time")
	require.Zero(t, s)
}

func FuzzThermal(f *testing.F) {
	f.Add(0.0, 1.0, 1.0, 600.0, 0.5)
	f.Add(math.NaN(), math.Inf(1), -1.0, 0.0, 1e308)
	f.Fuzz(func(t *testing.T, theta, target, dt, tau, level float64) {
		if v, ok := thermal.Step(theta, target, dt, tau); !finite(v) || (!ok && v != 0) {
			t.Fatalf("Step gave %v, %v", v, ok)
		}
		if v, ok := thermal.TimeTo(theta, target, level, tau); !finite(v) || v < 0 || (!ok && v != 0) {
			t.Fatalf("TimeTo gave %v, %v", v, ok)
		}
	})
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func BenchmarkStep(b *testing.B) {
	b.ReportAllocs()
	theta := 0.0
	for b.Loop() {
		theta, _ = thermal.Step(theta, 1.2, 0.1, 600)
	}
}
