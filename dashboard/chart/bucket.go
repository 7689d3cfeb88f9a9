package chart

import "math"

// bucket is the least and the most of the good points in a short time.
type bucket struct {
	n        int64
	min, max float64
}

// segment is an unbroken run of good points.
type segment struct {
	from, to float64
	buckets  []bucket
}

// width returns the duration of one bucket.
func (p *Plot) width() float64 { return (p.To - p.From) / buckets }

// segments sorts the points into buckets and breaks them at every gap. Bucket
// edges sit at whole multiples of the width since time 0, not since From, so
// that a chart that moves on does not shimmer.
func (p *Plot) segments() []segment {
	var out []segment
	open := false
	last := math.Inf(-1)
	for _, pt := range p.Points {
		if !pt.OK || math.IsNaN(pt.Y) || math.IsInf(pt.Y, 0) {
			open = false
			continue
		}
		if pt.T < p.From || pt.T > p.To || pt.T < last {
			continue
		}
		if !open || pt.T-last > p.MaxStepS {
			out = append(out, segment{from: pt.T})
			open = true
		}
		out[len(out)-1].add(int64(math.Floor(pt.T/p.width())), pt)
		last = pt.T
	}
	return out
}

func (s *segment) add(n int64, pt Point) {
	s.to = pt.T
	if k := len(s.buckets) - 1; k >= 0 && s.buckets[k].n == n {
		b := &s.buckets[k]
		b.min, b.max = math.Min(b.min, pt.Y), math.Max(b.max, pt.Y)
		return
	}
	s.buckets = append(s.buckets, bucket{n: n, min: pt.Y, max: pt.Y})
}

// Reach is the least and the most of the good points in one bucket of time.
type Reach struct {
	// T is the middle of the bucket in seconds, Min and Max in the unit of the
	// points.
	T, Min, Max float64
}

// Run is a time without a gap: from the first good point to the last, in
// seconds.
type Run struct {
	From, To float64
	Reaches  []Reach
}

// Runs returns what SVG draws, for a chart that is drawn elsewhere:
// unbroken runs in order of time, each bucket a 240th of the time axis wide and
// at a whole multiple of that. A plot that SVG doesn't draw has none.
func (p *Plot) Runs() []Run {
	if !p.drawable() {
		return nil
	}
	segs := p.segments()
	out := make([]Run, len(segs))
	for i := range segs {
		out[i] = Run{From: segs[i].from, To: segs[i].to, Reaches: make([]Reach, len(segs[i].buckets))}
		for k, b := range segs[i].buckets {
			out[i].Reaches[k] = Reach{T: (float64(b.n) + 0.5) * p.width(), Min: b.min, Max: b.max}
		}
	}
	return out
}

// span is a stretch of time.
type span struct{ from, to float64 }

// gapsOf returns the stretches without a good point that are too long to be
// the normal pause between two ticks.
func (p *Plot) gapsOf(segs []segment) []span {
	var out []span
	at := p.From
	note := func(to float64) {
		if to-at > p.MaxStepS {
			out = append(out, span{at, to})
		}
	}
	for i := range segs {
		note(segs[i].from)
		// A break inside the bridged time is still a break: show it.
		if n := len(out); i > 0 && (n == 0 || out[n-1].from != at) {
			out = append(out, span{at, segs[i].from})
		}
		at = segs[i].to
	}
	note(p.To)
	return out
}
