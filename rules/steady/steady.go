// Package steady tells by a statistical test whether a series of readings
// stands still, and how many independent readings it is worth.
//
// It owns the effective number of readings of a series that hangs together in
// time, the bound on its drift, the bound on its bow (up and down again), and
// the comparison of the scatter of its two halves. It is a test of equivalence
// and not of difference: a series is steady when its drift is shown to be
// within a tolerance, so that noise doesn't pass for rest; waiting alone makes
// nothing steady. It refuses to judge fewer than MinReadings, readings that
// are worth fewer than MinEffective, and anything that is no number.
//
// The chance that a series which drifts by the tolerance or more is called
// steady is at most half of one minus the level for each look (0.5 % at the
// level 0.99); the rates measured with correlated noise are in the tests.
// Readings are evenly spaced in time; units are the caller's.
//
// Sources: two one-sided tests, Schuirmann, 1987; effective number of
// correlated readings, Bayley and Hammersley, 1946; where to cut the
// autocorrelations off, Geyer, 1992; least squares and the F test in any text
// on statistics. All from memory.
package steady

import (
	"math"

	"headroom/rules/gum"
)

// The least that is judged.
const (
	// MinReadings is the shortest series.
	MinReadings = 16
	// MinEffective is the least number of independent readings that it must be
	// worth: with fewer nobody can tell a slow swing from rest.
	MinEffective = 8
)

// Test says what counts as steady.
type Test struct {
	// Level of confidence, above 0 and below 1. DefaultLevel where 0.
	Level float64
	// Tolerance is the most that the series may drift from end to end, and bow
	// in its middle, in its own unit; above 0.
	Tolerance float64
}

// DefaultLevel is 99 %. Common practice, no source.
const DefaultLevel = 0.99

// Reason says why a series isn't steady.
type Reason uint8

// The reasons. The zero value is that there is nothing to judge.
const (
	// TooFew: too few readings, or one that is no number, or no tolerance.
	TooFew Reason = iota
	// Steady: none of the others.
	Steady
	// Drifting: the drift is surely there and may be beyond the tolerance.
	Drifting
	// Swinging: it goes up and down again beyond the tolerance, or so slowly
	// that the window holds too few swings.
	Swinging
	// Noisy: too noisy to show that it stands still.
	Noisy
	// Changing: the scatter of its halves differs.
	Changing
)

var reasonWords = [...]string{
	"waiting for more readings", "steady", "still drifting", "swinging slowly",
	"too noisy to see whether it drifts", "its scatter is changing",
}

// String returns the reason in words.
func (r Reason) String() string {
	if int(r) >= len(reasonWords) {
		return "unknown"
	}
	return reasonWords[r]
}

// Verdict is what the test says of a series.
type Verdict struct {
	Reason Reason
	// N is the number of readings and Effective what they are worth.
	N         int
	Effective float64
	// Mean of the readings and Spread, the standard deviation of one about the
	// trend, freed of what the correlation hides.
	Mean, Spread float64
	// Drift is the change from end to end along the trend, DriftBound the most
	// that it may be at the level; Bow and BowBound likewise for the middle
	// half against the outer quarters.
	Drift, DriftBound, Bow, BowBound float64
	// Ratio of the variance of the second half to that of the first.
	Ratio float64
}

// OK reports whether the series is steady.
func (v *Verdict) OK() bool { return v.Reason == Steady }

// Judge tests a series, the oldest reading first.
func (t Test) Judge(x []float64) Verdict {
	v := Verdict{N: len(x)}
	level := t.Level
	if level == 0 {
		level = DefaultLevel
	}
	if len(x) < MinReadings || !(t.Tolerance > 0) || !(level > 0 && level < 1) {
		return v
	}
	f, ok := fit(x)
	if !ok {
		return v
	}
	v.Mean, v.Spread, v.Effective, v.Drift = f.mean, f.spread, f.effective, float64(f.slope*float64(len(x)-1))
	if f.effective < MinEffective {
		v.Reason = Swinging
		if f.width <= t.Tolerance {
			v.Reason = Steady // all of it is within the tolerance
		}
		v.DriftBound, v.BowBound = f.width, f.width
		return v
	}
	k, ok := gum.StudentT(level, f.effective-2)
	if !ok {
		return v
	}
	n := float64(len(x))
	perMean := f.spread / math.Sqrt(f.effective)
	v.DriftBound = math.Abs(v.Drift) + float64(k*perMean*math.Sqrt(12)*(n-1))/math.Sqrt(float64(n*n)-1)
	v.Bow = bow(x)
	v.BowBound = math.Abs(v.Bow) + float64(k*2*perMean)
	v.Reason = t.reason(&v, perMean, f.halves(level, &v))
	return v
}

// reason orders what is wrong: what is surely there before what may be noise.
func (t Test) reason(v *Verdict, perMean float64, changing bool) Reason {
	switch {
	case v.DriftBound > t.Tolerance && math.Abs(v.Drift) > v.DriftBound/2:
		return Drifting
	case v.BowBound > t.Tolerance && math.Abs(v.Bow) > v.BowBound/2:
		return Swinging
	case v.DriftBound > t.Tolerance || v.BowBound > t.Tolerance:
		return Noisy
	case changing && perMean > 0.05*t.Tolerance:
		return Changing
	}
	return Steady
}

// bow is the mean of the middle half less that of the outer quarters.
func bow(x []float64) float64 {
	q := len(x) / 4
	var in, out float64
	for i, v := range x {
		if i >= q && i < len(x)-q {
			in += v
		} else {
			out += v
		}
	}
	return in/float64(len(x)-2*q) - out/float64(2*q)
}
