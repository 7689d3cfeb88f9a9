// Package chart draws readings as SVG texts: a strip chart of one quantity over
// the last minutes (Plot), and a sheet of several quantities over one time axis
// for reviewing and printing (Sheet), with their limits and what happened. It owns the
// reduction of many points to one band per few pixels (the least and the most
// of each bucket, so that no spike is lost), the choice of scale, and the
// marking of gaps. It refuses to bridge a gap, to draw a value that is not
// good, and to convert units: what it is given is what it shows. The same
// input gives the same bytes.
package chart

import (
	"math"
	"strings"
)

// Point is one reading. OK is false where there was none that may be trusted;
// Y then means nothing.
type Point struct {
	// T is the time in seconds, rising from point to point.
	T float64
	// Y in the unit that the chart shows.
	Y float64
	// OK tells a good reading from a gap.
	OK bool
}

// Limit is one line that the quantity shall not cross.
type Limit struct {
	// Y in the unit that the chart shows.
	Y float64
	// Label beside the line, for example "limit".
	Label string
	// HighIsBad is true where the quantity must stay below the line.
	HighIsBad bool
	// Outer marks the last limit; an inner one is drawn dashed.
	Outer bool
}

// Mark is one event.
type Mark struct {
	// T in seconds, on the clock of the points.
	T float64
	// Label tells what happened, for those who point at it or hear it.
	Label string
}

// Plot is everything that one chart shows.
type Plot struct {
	// Name of the chart, for those who cannot see it.
	Name string
	// From and To bound the time axis, in seconds.
	From, To float64
	// Points, Limits and Marks to draw; points in rising order of time.
	Points []Point
	Limits []Limit
	Marks  []Mark
	// MaxStepS is the longest time between two good points that is drawn as
	// unbroken.
	MaxStepS float64
	// MinSpan is the least height of the vertical scale, so that noise on a
	// steady value is not blown up to a mountain range. It must be above 0.
	MinSpan float64
	// Decimals of the limits' values; the axis chooses its own.
	Decimals int
}

const (
	// buckets across the plot: one per one to three pixels.
	buckets = 240
	// The plot inside the picture, in pixels from its top.
	plotTop, plotHeight, totalHeight = 16, 128, 168
	// Share of the width that the numbers at the left take.
	gutter = 0.15
	// maxMarks keeps a bad day from painting the plot black: the newest stay.
	maxMarks = 24
)

// SVG returns the chart. The picture is as wide as the place it is put in;
// letters keep their size. A plot whose times or span make no sense gives an
// empty string.
func (p *Plot) SVG() string {
	if !p.drawable() {
		return ""
	}
	segs := p.segments()
	sc := p.scale(segs)
	var b strings.Builder
	d := drawing{Builder: &b, p: p, sc: sc}
	d.open()
	d.gaps(segs)
	d.plot()
	d.zones()
	d.grid()
	d.limits()
	d.close()
	// The names lie under the data: nothing may hide a reading.
	d.limitNames()
	d.plot()
	d.bands(segs)
	d.markLines()
	d.close()
	d.letters()
	b.WriteString("</svg>\n")
	return b.String()
}

// OffScale returns the limits that lie too far away to be drawn without making
// the quantity itself a flat line. The caller tells of them in words.
func (p *Plot) OffScale() []Limit {
	if !p.drawable() {
		return nil
	}
	sc := p.scale(p.segments())
	var out []Limit
	for _, l := range p.Limits {
		if !sc.holds(l.Y) {
			out = append(out, l)
		}
	}
	return out
}

// drawable reports whether the times and the span make sense.
func (p *Plot) drawable() bool {
	return p.To > p.From && p.MinSpan > 0 && !math.IsInf(p.To-p.From, 0)
}
