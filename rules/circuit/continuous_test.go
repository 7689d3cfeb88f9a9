package circuit_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/circuit"
)

var twenty = circuit.ContinuousConfig{RatingA: 20, PauseS: circuit.DefaultPauseS}

// Source: NFPA 70 (NEC) Article 100 and 210.20(A): 3 h or more, 80 %.
func TestContinuousTracker(t *testing.T) {
	type span struct{ a, s float64 }
	const h = 3600.0
	for _, c := range []struct {
		name  string
		cfg   circuit.ContinuousConfig
		spans []span
		want  circuit.Load
		leftS float64
	}{
		{"at the limit for ever", twenty, []span{{16, 10 * h}}, circuit.LoadWithin, 3 * h},
		{"above, short", twenty, []span{{17, h}}, circuit.LoadOver, 2 * h},
		{"above, three hours", twenty, []span{{17, 3 * h}}, circuit.LoadContinuous, 0},
		{"above the rating", twenty, []span{{21, 60}}, circuit.LoadOverRating, 3*h - 60},
		{"a short pause doesn't count", twenty, []span{{17, 2 * h}, {0, 200}, {17, h}}, circuit.LoadContinuous, 0},
		{"a short pause counts as load", twenty, []span{{17, 2 * h}, {0, 200}, {17, 3000}}, circuit.LoadOver, 400},
		{"a long pause ends the load", twenty, []span{{17, 2 * h}, {0, 400}, {17, h}}, circuit.LoadOver, 2 * h},
		{"listed for 100 %", circuit.ContinuousConfig{RatingA: 20, FullyRated: true}, []span{{20, 9 * h}}, circuit.LoadWithin, 3 * h},
		{"nobody saw it end", twenty, []span{{17, 2 * h}, {math.NaN(), h}, {17, 60}}, circuit.LoadContinuous, 0},
		{"unknown now", twenty, []span{{17, h}, {-1, h}}, circuit.LoadUnknown, h},
		{"no rating", circuit.ContinuousConfig{}, []span{{17, h}}, circuit.LoadUnknown, 3 * h},
	} {
		for _, n := range []int{1, 20} {
			var s circuit.ContinuousState
			var got circuit.Load
			for _, sp := range c.spans {
				for range n {
					s, got = c.cfg.Step(s, sp.a, sp.s/float64(n))
				}
			}
			require.Equal(t, c.want.String(), got.String(), "%s, %d steps", c.name, n)
			require.InDelta(t, c.leftS, s.LeftS(), 1e-6, "%s, %d steps", c.name, n)
		}
	}
}

// A load at or below the limit never counts, whatever comes between.
func TestWithinTheLimitNeverCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s circuit.ContinuousState
		for range rapid.IntRange(1, 50).Draw(t, "n") {
			var got circuit.Load
			s, got = twenty.Step(s, rapid.Float64Range(0, 16).Draw(t, "a"), rapid.Float64Range(0, 9000).Draw(t, "dt"))
			require.Equal(t, circuit.LoadWithin, got)
			require.Equal(t, circuit.ContinuousState{}, s)
		}
	})
}

func TestLimits(t *testing.T) {
	full, ok := circuit.ContinuousLimitA(20, true)
	require.True(t, ok)
	require.InDelta(t, 20, full, 0)
	_, ok = circuit.Share(math.Inf(1), 20)
	require.False(t, ok)
}

func TestNames(t *testing.T) {
	seen := map[string]bool{}
	for l := circuit.LoadUnknown; l <= circuit.LoadOverRating; l++ {
		seen["load "+l.String()] = true
	}
	for s := circuit.WaveUnknown; s <= circuit.WaveBadSample; s++ {
		seen["wave "+s.String()] = true
	}
	require.Len(t, seen, 5+5, "every value has a name of its own")
}

func FuzzContinuous(f *testing.F) {
	f.Add(20.0, 300.0, 100.0, 0.0, 17.0, 1.0)
	f.Add(math.NaN(), math.Inf(1), math.NaN(), -1.0, 1e308, 5e-324)
	f.Fuzz(func(t *testing.T, ratingA, pauseS, aboveS, pausedS, a, dt float64) {
		c := circuit.ContinuousConfig{RatingA: ratingA, PauseS: pauseS}
		s, _ := c.Step(circuit.ContinuousState{AboveS: aboveS, PausedS: pausedS}, a, dt)
		if l := s.LeftS(); !(l >= 0 && l <= circuit.ContinuousS) {
			t.Fatalf("left %v", l)
		}
		if v, ok := circuit.Share(a, ratingA); math.IsNaN(v) || math.IsInf(v, 0) || (!ok && v != 0) {
			t.Fatalf("share %v", v)
		}
		if v, _ := circuit.ContinuousLimitA(ratingA, false); !(v >= 0 && v <= circuit.MaxRatingA) {
			t.Fatalf("limit %v", v)
		}
	})
}

func BenchmarkContinuousStep(b *testing.B) {
	b.ReportAllocs()
	var s circuit.ContinuousState
	for b.Loop() {
		s, _ = twenty.Step(s, 17, 0.1)
	}
}
