package review

import (
	"math"
	"time"

	"headroom/rules/frame"
)

// series is the usable samples of one channel in the order of time.
type series struct {
	t []time.Duration
	y []float64
}

func (s *series) add(t time.Duration, smp frame.Sample) {
	if smp.OK() && !math.IsNaN(smp.Value) && !math.IsInf(smp.Value, 0) {
		s.t, s.y = append(s.t, t), append(s.y, smp.Value)
	}
}

// at returns the index of the first sample that isn't before t.
func (s *series) at(t time.Duration) int {
	lo, hi := 0, len(s.t)
	for lo < hi {
		if mid := (lo + hi) / 2; s.t[mid] < t {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return lo
}

// between returns the samples from a to b, both inclusive.
func (s *series) between(a, b time.Duration) []float64 {
	return s.y[s.at(a):max(s.at(a), s.at(b+1))]
}

// median over from a to b; n is the number of samples behind it, 0 for none.
func (s *series) median(a, b time.Duration) (v float64, n int) {
	y := s.between(a, b)
	if len(y) == 0 {
		return 0, 0
	}
	return median(append([]float64(nil), y...)), len(y)
}

// Cusum is the two-sided tabular cumulative sum: up and down hold how far the
// values have run above target+k, or below target-k, so far.
// Source: E. S. Page, Continuous Inspection Schemes, Biometrika 41 (1954);
// the form of the NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3.
type Cusum struct {
	// Target is the level that is held, and K the slack on each side of it, in
	// the unit of the values.
	Target, K float64
	// Up and Down are the sums; 0 at the start.
	Up, Down float64
}

// Add takes the next value. A value that isn't finite changes nothing.
func (c *Cusum) Add(x float64) {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return
	}
	c.Up = math.Max(0, c.Up+(x-c.Target)-c.K)
	c.Down = math.Max(0, c.Down+(c.Target-x)-c.K)
}

// leaves finds where the series left the level for good: the last sample
// before the sum that reaches h began to grow. up tells the direction; ok is
// false where it never leaves. The search begins with sample i and ends before
// sample end.
func (s *series) leaves(i, end int, level, k, h float64, up bool) (at int, ok bool) {
	c := Cusum{Target: level, K: k}
	at = i
	for ; i < end; i++ {
		c.Add(s.y[i])
		sum := c.Down
		if up {
			sum = c.Up
		}
		if sum == 0 {
			at = i
		}
		if sum > h {
			return at, true
		}
	}
	return 0, false
}
