package calibrate

import (
	"math"
	"time"
)

// WindowSize is the number of readings in the test of steadiness.
const WindowSize = 32

// tWindow is Student's t for 99 % two-sided with WindowSize-2 = 30 degrees of
// freedom. Source: tables of the t distribution, from memory.
const tWindow = 2.750

// minNeumann is the one-percent point of von Neumann's ratio for 32 independent
// readings, by its normal approximation: mean 2, variance 4(n-2)/(n^2-1).
// Source: von Neumann, 1941, from memory.
const minNeumann = 1.20

// Window holds the last readings. It is plain data; the zero value is empty.
type Window struct {
	at   [WindowSize]time.Duration
	x    [WindowSize]float64
	n    int // readings in it
	next int // where the next one goes
}

// Add returns the window with a reading more. One that isn't newer than the
// last is no new reading and is left out; one that is no number empties it.
func (w Window) Add(at time.Duration, x float64) Window {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return Window{}
	}
	if w.n > 0 && at <= w.at[(w.next+WindowSize-1)%WindowSize] {
		return w
	}
	w.at[w.next], w.x[w.next] = at, x
	w.next = (w.next + 1) % WindowSize
	w.n = min(w.n+1, WindowSize)
	return w
}

// Steadiness is what a window says.
type Steadiness struct {
	// Steady allows a point to be taken.
	Steady bool
	// Why says in words what is missing, empty when steady.
	Why string
	// N is the number of readings, of WindowSize.
	N int
	// Mean and Spread (standard deviation about the trend) of them.
	Mean, Spread float64
	// Drift is the change over the window along the trend, and DriftBound the
	// most that it may be, with 99 % confidence.
	Drift, DriftBound float64
	// Neumann is the ratio of successive to total variation about the mean:
	// near 2 for noise, near 0 for a slow swing; 2 without any variation.
	Neumann float64
}

// Judge tests whether the readings stand still within tol, in their unit, above
// 0. It is a test of equivalence, not of difference: noise doesn't pass for
// rest. Steady means that the window is full, that the drift over it is within
// tol with 99 % confidence, that the mean is known to tol with the same, and
// that the readings show no slow swing, unless all of them are within tol. No
// amount of waiting makes a moving reading steady.
func (w Window) Judge(tol float64) Steadiness {
	s := w.measure()
	meanBound := tWindow * s.Spread / math.Sqrt(WindowSize)
	switch {
	case w.n < WindowSize:
		s.Why = "waiting for more readings"
	case !(tol > 0):
		s.Why = "no tolerance given"
	case !(s.DriftBound <= tol):
		s.Why = "still drifting"
		if math.Abs(s.Drift) <= s.DriftBound/2 { // what is seen may all be noise
			s.Why = "too noisy to see whether it drifts"
		}
	case !(meanBound <= tol):
		s.Why = "too noisy"
	case s.Neumann < minNeumann && !(w.width() <= tol):
		s.Why = "swinging slowly"
	default:
		s.Steady = true
	}
	return s
}

// measure fits a straight line by least squares.
func (w Window) measure() (s Steadiness) {
	s.N, s.Neumann = w.n, 2
	if w.n < WindowSize {
		s.Mean, _ = w.means()
		return s
	}
	mean, meanT := w.means()
	var tt, tx, xx, steps float64
	before := 0.0
	for k := range WindowSize {
		i := (w.next + k) % WindowSize // the oldest first
		dt, dx := w.at[i].Seconds()-meanT, w.x[i]-mean
		tt, tx, xx = tt+dt*dt, tx+dt*dx, xx+dx*dx
		if k > 0 {
			steps += (dx - before) * (dx - before)
		}
		before = dx
	}
	slope := tx / tt
	rest := math.Max(xx-slope*tx, 0) / (WindowSize - 2)
	span := (w.at[(w.next+WindowSize-1)%WindowSize] - w.at[w.next]).Seconds()
	s.Mean, s.Spread, s.Drift = mean, math.Sqrt(rest), slope*span
	s.DriftBound = math.Abs(s.Drift) + tWindow*math.Sqrt(rest/tt)*span
	if xx > 0 {
		s.Neumann = steps / xx
	}
	return s
}

func (w Window) means() (mean, meanT float64) {
	for i := range w.n {
		mean += w.x[i]
		meanT += w.at[i].Seconds()
	}
	n := math.Max(float64(w.n), 1)
	return mean / n, meanT / n
}

// width is the distance of the largest from the smallest reading.
func (w Window) width() float64 {
	lo, hi := w.x[0], w.x[0]
	for _, x := range w.x[:w.n] {
		lo, hi = math.Min(lo, x), math.Max(hi, x)
	}
	return hi - lo
}
