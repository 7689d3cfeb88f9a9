package breaker_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/check/checktest"
	"headroom/rules/circuit/breaker"
)

func TestChecks(t *testing.T) { checktest.Run(t, breaker.Checks()) }

func mustNew(t require.TestingT, c breaker.Config) breaker.Model {
	m, err := breaker.New(c)
	require.NoError(t, err)
	return m
}

// drawModel draws any breaker that the configuration allows.
func drawModel(t *rapid.T) (breaker.Model, float64) {
	std := rapid.SampledFrom([]breaker.Standard{
		breaker.UL489, breaker.IEC60898B, breaker.IEC60898C, breaker.IEC60898D,
	}).Draw(t, "standard")
	maxA := 125.0
	if std == breaker.UL489 {
		maxA = 600
	}
	ratingA := rapid.Float64Range(1, maxA).Draw(t, "ratingA")
	return mustNew(t, breaker.Config{Standard: std, RatingA: ratingA}), ratingA
}

// drawState lets the breaker live through a few spans of load.
func drawState(t *rapid.T, m breaker.Model, ratingA float64) breaker.State {
	var s breaker.State
	for range rapid.IntRange(0, 6).Draw(t, "spans") {
		var ok bool
		s, ok = m.Step(s, ratingA*rapid.Float64Range(0, 2.5).Draw(t, "i"), rapid.Float64Range(0, 900).Draw(t, "dt"))
		require.True(t, ok)
	}
	return s
}

// latest and earliest put a window on one scale, with never as +Inf.
func latest(w breaker.Window) float64 {
	switch w.Kind {
	case breaker.TripsBetween, breaker.TripsWithin, breaker.TripsAtOnce, breaker.Overdue:
		return w.LatestS
	}
	return math.Inf(1)
}

func earliest(w breaker.Window) float64 {
	if w.Kind == breaker.NoTrip {
		return math.Inf(1)
	}
	return w.EarliestS
}

func TestFastEdgeComesFirst(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, ratingA := drawModel(t)
		w := m.TimeToTrip(drawState(t, m, ratingA), ratingA*rapid.Float64Range(0, 30).Draw(t, "i"))
		require.NotEqual(t, breaker.KindUnknown, w.Kind)
		require.LessOrEqual(t, earliest(w), latest(w))
		require.GreaterOrEqual(t, w.EarliestS, 0.0)
	})
}

// After a pause the quick image is cool and the slow one still warm; the window
// must keep its order there too, and the instantaneous release must not promise
// more time than the slow image has left.
func TestSlowImageMayBeTheWarmerOne(t *testing.T) {
	m := mustNew(t, breaker.Config{Standard: breaker.IEC60898C, RatingA: 16})
	warm := breaker.State{Slow: 2.1} // trip level 1.45^2 = 2.1025
	w := m.TimeToTrip(warm, 32)
	require.Equal(t, breaker.TripsBetween, w.Kind)
	require.Positive(t, w.EarliestS)
	require.LessOrEqual(t, w.EarliestS, w.LatestS)
	w = m.TimeToTrip(warm, 16*30)
	require.Equal(t, breaker.TripsAtOnce, w.Kind)
	require.Positive(t, w.LatestS)
	require.Less(t, w.LatestS, m.Calibration().InstantS)
}

// Source: more heat at the same memory can't take longer.
func TestMoreCurrentTripsNoLater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, ratingA := drawModel(t)
		s := drawState(t, m, ratingA)
		i := rapid.Float64Range(0, 30).Draw(t, "i")
		more := i + rapid.Float64Range(0, 5).Draw(t, "more")
		a, b := m.TimeToTrip(s, ratingA*i), m.TimeToTrip(s, ratingA*more)
		require.GreaterOrEqual(t, earliest(a)*(1+1e-12), earliest(b))
		require.GreaterOrEqual(t, latest(a)*(1+1e-12), latest(b))
	})
}

// Source: the calibration points bind every allowed breaker that starts at
// least as warm as in the test. UL 489 tests from cold, so its promise holds
// from any memory. Tolerance: as in Checks.
func TestModelKeepsTheStandardsPromise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ratingA := rapid.Float64Range(1, 600).Draw(t, "ratingA")
		m := mustNew(t, breaker.Config{Standard: breaker.UL489, RatingA: ratingA})
		w := m.TimeToTrip(drawState(t, m, ratingA), ratingA*rapid.Float64Range(1.3500001, 30).Draw(t, "i"))
		require.NotZero(t, w.VouchedS)
		require.LessOrEqual(t, latest(w), w.VouchedS*(1+1e-4))
	})
}

// Source: UL 489 100 % and IEC 60898-1 1.13 In must hold.
func TestHoldCurrentNeverTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, _ := drawModel(t)
		holdA := m.HoldA() * rapid.Float64Range(0, 1).Draw(t, "share")
		dtS := rapid.Float64Range(0.01, 7200).Draw(t, "dt")
		var s breaker.State
		for range 500 {
			s, _ = m.Step(s, holdA, dtS)
			require.Equal(t, breaker.NoTrip, m.TimeToTrip(s, holdA).Kind)
			used, ok := m.Used(s)
			require.True(t, ok)
			require.Less(t, used, 1.0)
		}
	})
}

// Tolerance: 1e-9 absolute on a rise of order 1: a thousand steps of one
// rounding each, with room.
func TestStepSizeDoesNotChangeTheMemory(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, ratingA := drawModel(t)
		s := drawState(t, m, ratingA)
		a := ratingA * rapid.Float64Range(0, 4).Draw(t, "i")
		span := rapid.Float64Range(1, 1000).Draw(t, "span")
		n := rapid.IntRange(2, 1000).Draw(t, "n")
		whole, _ := m.Step(s, a, span)
		for range n {
			s, _ = m.Step(s, a, span/float64(n))
		}
		require.InDelta(t, whole.Fast, s.Fast, 1e-9)
		require.InDelta(t, whole.Slow, s.Slow, 1e-9)
	})
}

// Stepping must reach each edge at the closed form's time: one step before it
// the window still has that step's length, one step after it is used up.
func TestSteppingReachesTheClosedForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, ratingA := drawModel(t)
		a := ratingA * rapid.Float64Range(1.6, 2.9).Draw(t, "i")
		w := m.TimeToTrip(breaker.State{}, a)
		require.Equal(t, breaker.TripsBetween, w.Kind)
		for _, edgeS := range []float64{w.EarliestS, w.LatestS} {
			const n = 400
			var s breaker.State
			for range n {
				s, _ = m.Step(s, a, edgeS/n)
			}
			now := m.TimeToTrip(s, a)
			left := now.EarliestS
			if edgeS == w.LatestS {
				left = now.LatestS
			}
			require.InDelta(t, 0, left, edgeS*1e-6)
		}
	})
}

func TestUnknownCurrentWidensTheBand(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, ratingA := drawModel(t)
		s := drawState(t, m, ratingA)
		dtS := rapid.Float64Range(0, 3600).Draw(t, "dt")
		i := ratingA * rapid.Float64Range(0, 1).Draw(t, "i")
		known, ok := m.Step(s, i, dtS)
		require.True(t, ok)
		unknown, ok := m.StepUnknown(s, dtS)
		require.True(t, ok)
		require.GreaterOrEqual(t, unknown.Fast, known.Fast)
		require.LessOrEqual(t, unknown.Slow, known.Slow)
	})
}

func TestKinds(t *testing.T) {
	m := mustNew(t, breaker.Config{Standard: breaker.IEC60898C, RatingA: 16})
	hot, ok := m.StateAfter(16 * 1.44)
	require.True(t, ok)
	tripped, _ := m.StateAfter(16 * 1.46)
	for _, c := range []struct {
		name     string
		state    breaker.State
		multiple float64
		want     breaker.Kind
		source   string
	}{
		{"at the hold current", breaker.State{}, 1.13, breaker.NoTrip, "IEC 60898-1"},
		{"hot, back at the hold current", hot, 1.13, breaker.NoTrip, "IEC 60898-1 and the model"},
		{"between hold and must-trip, cold", breaker.State{}, 1.3, breaker.MayTripLater, "IEC 60898-1"},
		{"between hold and must-trip, hot", hot, 1.3, breaker.MayTripNow, "the model"},
		{"above must-trip, cold", breaker.State{}, 2, breaker.TripsBetween, "IEC 60898-1"},
		{"above must-trip, hot", hot, 2, breaker.TripsWithin, "the model"},
		{"in the instantaneous band", breaker.State{}, 7, breaker.TripsWithin, "IEC 60898-1, C: 5 to 10 In"},
		{"above the instantaneous band", breaker.State{}, 10, breaker.TripsAtOnce, "IEC 60898-1, C: 5 to 10 In"},
		{"should have tripped", tripped, 1.46, breaker.Overdue, "IEC 60898-1"},
		{"no number", breaker.State{}, math.NaN(), breaker.KindUnknown, "rule of the house"},
	} {
		require.Equal(t, c.want, m.TimeToTrip(c.state, 16*c.multiple).Kind, "%s (%s)", c.name, c.source)
	}
	require.Equal(t, breaker.KindUnknown, breaker.Model{}.TimeToTrip(breaker.State{}, 10).Kind)
}

func TestConfigErrors(t *testing.T) {
	for _, c := range []struct {
		name string
		cfg  breaker.Config
		part string
	}{
		{"no standard", breaker.Config{RatingA: 20}, "without its standard"},
		{"rating too large", breaker.Config{Standard: breaker.IEC60898B, RatingA: 126}, "1 to 125 A"},
		{"rating no number", breaker.Config{Standard: breaker.UL489, RatingA: math.NaN()}, "1 to 600 A"},
		{"earliest after latest", breaker.Config{Standard: breaker.UL489, RatingA: 20, EarliestS: 121}, "0.1 to 120 s"},
		{"earliest no number", breaker.Config{Standard: breaker.UL489, RatingA: 20, EarliestS: math.NaN()}, "0.1 to 120 s"},
		{"instant band reversed", breaker.Config{Standard: breaker.UL489, RatingA: 20, InstantLow: 9, InstantHigh: 8}, "instantaneous band"},
	} {
		_, err := breaker.New(c.cfg)
		require.ErrorContains(t, err, c.part, c.name)
	}
	m := mustNew(t, breaker.Config{Standard: breaker.UL489, RatingA: 20, EarliestS: 25, InstantLow: 8, InstantHigh: 12})
	require.InDelta(t, 25, m.TimeToTrip(breaker.State{}, 40).EarliestS, 1e-6)
	require.Equal(t, breaker.TripsAtOnce, m.TimeToTrip(breaker.State{}, 240).Kind)
}

func TestNames(t *testing.T) {
	seen := map[string]bool{}
	for k := breaker.KindUnknown; k <= breaker.Overdue; k++ {
		seen[k.String()] = true
	}
	for s := breaker.StandardUnknown; s <= breaker.IEC60898D; s++ {
		seen[s.String()] = true
	}
	require.Len(t, seen, 8+5, "every value has a name of its own")
}

func FuzzBreaker(f *testing.F) {
	f.Add(uint8(1), 20.0, 0.0, 0.3, 0.3, 27.0, 1.0)
	f.Add(uint8(3), 16.0, 2.0, math.Inf(1), -1.0, math.NaN(), 1e308)
	f.Fuzz(func(t *testing.T, std uint8, ratingA, earliestS, fast, slow, a, dt float64) {
		m, err := breaker.New(breaker.Config{Standard: breaker.Standard(std), RatingA: ratingA, EarliestS: earliestS})
		if err != nil {
			m = breaker.Model{}
		}
		s := breaker.State{Fast: fast, Slow: slow}
		w := m.TimeToTrip(s, a)
		if !finite(w.EarliestS) || !finite(w.LatestS) || w.EarliestS < 0 || w.LatestS < 0 {
			t.Fatalf("window %+v", w)
		}
		if latest(w) < earliest(w) && w.Kind != breaker.KindUnknown {
			t.Fatalf("window reversed: %+v", w)
		}
		if n, ok := m.Step(s, a, dt); ok && (!finite(n.Fast) || !finite(n.Slow)) {
			t.Fatalf("memory %+v", n)
		}
		if n, ok := m.StepUnknown(s, dt); ok && (!finite(n.Fast) || !finite(n.Slow)) {
			t.Fatalf("memory %+v", n)
		}
		if u, _ := m.Used(s); !finite(u) {
			t.Fatalf("used %v", u)
		}
	})
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func BenchmarkStep(b *testing.B) {
	b.ReportAllocs()
	m := mustNew(b, breaker.Config{Standard: breaker.UL489, RatingA: 20})
	var s breaker.State
	for b.Loop() {
		s, _ = m.Step(s, 19, 0.1)
	}
}

func BenchmarkTimeToTrip(b *testing.B) {
	b.ReportAllocs()
	m := mustNew(b, breaker.Config{Standard: breaker.UL489, RatingA: 20})
	for b.Loop() {
		_ = m.TimeToTrip(breaker.State{Fast: 0.5, Slow: 0.5}, 31)
	}
}
