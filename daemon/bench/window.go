package bench

import (
	"math"
	"time"

	"headroom/rules/frame"
	"headroom/rules/steady"
)

// Input is one frame as the engine gave it out.
type Input struct {
	// T is the frame's monotonic time, Wall the time of day.
	T    time.Duration
	Wall time.Time
	// Samples are the engine's, with the statuses that it found.
	Samples [frame.NumChannels]frame.Sample
}

// maxFrames bounds the window's memory: ten minutes at ten frames a second.
const maxFrames = 6000

// maxGap is the longest time between two frames of one window.
const maxGap = 2 * time.Second

// window holds the frames since the conditions of the step were met.
type window struct {
	t []time.Duration
	x [frame.NumChannels][]float64
	// badAt is when a channel was last not good, and bad whether it ever was.
	badAt [frame.NumChannels]time.Duration
	bad   [frame.NumChannels]bool
}

func (w *window) clear() {
	w.t = w.t[:0]
	for c := range w.x {
		w.x[c] = w.x[c][:0]
	}
	w.bad = [frame.NumChannels]bool{}
}

// add appends a frame and drops what is older than the length.
func (w *window) add(in *Input, length time.Duration) {
	if n := len(w.t); n > 0 && (in.T <= w.t[n-1] || in.T-w.t[n-1] > maxGap) {
		w.clear()
	}
	w.t = append(w.t, in.T)
	for c := range w.x {
		s := in.Samples[c]
		if !s.OK() || math.IsNaN(s.Value) || math.IsInf(s.Value, 0) {
			w.badAt[c], w.bad[c], s.Value = in.T, true, 0
		}
		w.x[c] = append(w.x[c], s.Value)
	}
	drop := 0
	for drop < len(w.t) && (in.T-w.t[drop] > length || len(w.t)-drop > maxFrames) {
		drop++
	}
	// Shifting on each frame would cost more than all the rest.
	if drop > 64 || drop > 0 && drop == len(w.t) {
		w.t = w.t[:copy(w.t, w.t[drop:])]
		for c := range w.x {
			w.x[c] = w.x[c][:copy(w.x[c], w.x[c][drop:])]
		}
	}
}

// last returns where the window of that length begins.
func (w *window) last(length time.Duration) (lo int) {
	end := w.t[len(w.t)-1]
	for lo = len(w.t) - 1; lo > 0 && end-w.t[lo-1] <= length; lo-- {
	}
	return lo
}

// full reports whether the window is as long as asked, but for one frame.
func (w *window) full(length time.Duration) bool {
	n := len(w.t)
	if n < steady.MinReadings {
		return false
	}
	span := w.t[n-1] - w.t[0]
	return span+span/time.Duration(n-1) >= length
}

// good reports whether a channel was good all the time from the index on.
func (w *window) good(c frame.Channel, lo int) bool {
	return !w.bad[c] || w.badAt[c] < w.t[lo]
}

// reading sums up one channel from the index on.
func (w *window) reading(c frame.Channel, lo int) Reading {
	x := w.x[c][lo:]
	v := steady.Test{Tolerance: math.MaxFloat64}.Judge(x)
	r := Reading{Channel: c.String(), Mean: v.Mean, Spread: v.Spread, Effective: v.Effective, N: v.N}
	if span := (w.t[len(w.t)-1] - w.t[lo]).Seconds(); span > 0 {
		if drift, std, dof, ok := steady.Trend(x); ok {
			r.Slope, r.SlopeStd, r.SlopeDoF = drift/span, std/span, dof
		}
	}
	return r
}

// readings sums up every channel that was good.
func (w *window) readings(lo int) []Reading {
	var out []Reading
	for c := range frame.NumChannels {
		if !c.Digital() && w.good(c, lo) {
			out = append(out, w.reading(c, lo))
		}
	}
	return out
}
