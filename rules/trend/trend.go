// Package trend tells how fast a quantity moves towards its limit and how sure
// that is. It is a straight line fitted by least squares with weights that
// fade with age, updated in constant time and memory. It knows nothing of the
// quantity and never extrapolates beyond an hour.
package trend

import (
	"math"

	"headroom/rules/detmath"
)

// Sure says how far a predicted time can be trusted.
type Sure uint8

// The grades. None means: no trend, give no time.
const (
	None Sure = iota
	Low
	High
)

// String returns the grade as it stands in output for programs.
func (s Sure) String() string {
	switch s {
	case Low:
		return "low"
	case High:
		return "high"
	}
	return "none"
}

// Line is the running fit. The zero value is empty. Times are relative to the
// newest sample, so that the sums stay small over years of running.
type Line struct {
	w, wt, wtt, wy, wty, wyy float64
	ageS                     float64
}

// Fade returns the weight that a step of dtS leaves on older samples, for a
// memory of tauS. Compute it once per tick and share it among lines.
func Fade(dtS, tauS float64) float64 {
	if dtS <= 0 || tauS <= 0 {
		return 1
	}
	return detmath.Exp(-dtS / tauS)
}

// Reset empties the line, as after a gap in the data.
func (l *Line) Reset() { *l = Line{} }

// Add moves time on by dtS seconds, fades the past by the factor fade, and adds
// y. y must be finite; scale it to about 1 (share of span) for good numbers.
func (l *Line) Add(dtS, fade, y float64) {
	if l.w > 0 {
		l.wtt = (l.wtt - float64(2*dtS*l.wt)) + float64(float64(dtS*dtS)*l.w)
		l.wt -= float64(dtS * l.w)
		l.wty -= float64(dtS * l.wy)
		l.w, l.wt, l.wtt = l.w*fade, l.wt*fade, l.wtt*fade
		l.wy, l.wty, l.wyy = l.wy*fade, l.wty*fade, l.wyy*fade
		l.ageS += dtS
	}
	l.w++
	l.wy += y
	l.wyy += float64(y * y)
}

// Slope returns the slope per second and its standard error. ok is false with
// fewer than about five effective samples or a degenerate spread of times.
func (l *Line) Slope() (perS, stdErr float64, ok bool) {
	if l.w < 5 {
		return 0, 0, false
	}
	mt, my := l.wt/l.w, l.wy/l.w
	stt := l.wtt - float64(mt*l.wt)
	sty := l.wty - float64(mt*l.wy)
	syy := l.wyy - float64(my*l.wy)
	if stt <= 1e-9 {
		return 0, 0, false
	}
	b := sty / stt
	rss := math.Max(syy-float64(b*sty), 0)
	return b, math.Sqrt(rss / (l.w - 2) / stt), true
}

// Horizon is the longest time that is ever predicted, in seconds.
const Horizon = 3600.0

// TimeTo returns the seconds until a quantity that is now at distance from its
// limit and shrinks along the line reaches it, the earliest and latest time at
// two standard errors, and how sure the trend is. sure is None where the
// distance doesn't shrink, the slope drowns in noise (below four standard
// errors), or the time lies beyond the horizon. minAgeS is how long the line
// must have watched.
func (l *Line) TimeTo(distance, minAgeS float64) (s, earliest, latest float64, sure Sure) {
	b, se, ok := l.Slope()
	if !ok || l.ageS < minAgeS || distance <= 0 || b >= 0 {
		return 0, 0, 0, None
	}
	rate := -b
	if rate < 4*se {
		return 0, 0, 0, None
	}
	s = distance / rate
	if s > Horizon {
		return 0, 0, 0, None
	}
	sure = Low
	if rate >= 10*se {
		sure = High
	}
	return s, distance / (rate + 2*se), math.Min(distance/(rate-2*se), Horizon), sure
}
