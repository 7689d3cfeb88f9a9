package brief

import (
	"math"
	"slices"

	"headroom/daemon/store/codec"
	"headroom/rules/frame"
)

// Stat sums up one channel in one bucket.
type Stat struct {
	// Frames in which the channel was fitted, and how many of them had a
	// value that may be used.
	Frames, OK int64
	// Seen has a bit for each status that was seen.
	Seen uint16
	// Min, Max and Mean of the values that may be used, SI; valid when OK
	// isn't 0.
	Min, Max, Mean float64
}

// Share is the share of frames whose value may be used, 0 to 1.
func (s *Stat) Share() float64 {
	if s.Frames == 0 {
		return 0
	}
	return float64(s.OK) / float64(s.Frames)
}

// Add takes what another bucket sums up.
func (s *Stat) Add(o Stat) {
	s.Frames += o.Frames
	s.Seen |= o.Seen
	switch {
	case o.OK == 0:
		return
	case s.OK == 0:
		s.Min, s.Max, s.Mean = o.Min, o.Max, o.Mean
	default:
		s.Min, s.Max = min(s.Min, o.Min), max(s.Max, o.Max)
		s.Mean += (o.Mean - s.Mean) * (float64(o.OK) / float64(s.OK+o.OK))
	}
	s.OK += o.OK
}

// AddSample takes one sample.
func (s *Stat) AddSample(value float64, status frame.Status) {
	if status == frame.NotFitted {
		return
	}
	one := Stat{Frames: 1, Seen: 1 << min(status, 15)}
	if (frame.Sample{Status: status}).OK() && !math.IsNaN(value) && !math.IsInf(value, 0) {
		one.OK, one.Min, one.Max, one.Mean = 1, value, value, value
	}
	s.Add(one)
}

// Bucket is one span of time, from Index times the width on.
type Bucket struct {
	Index    int64
	Channels [frame.NumChannels]Stat
}

// Of sums columns up, in the order of time.
func Of(c *codec.Columns, widthNs int64) []Bucket {
	var out []Bucket
	for i, t := range c.T {
		index := floorDiv(t, widthNs)
		if n := len(out); n == 0 || out[n-1].Index != index {
			out = append(out, Bucket{Index: index})
		}
		b := &out[len(out)-1]
		for ch := range c.Status {
			if len(c.Status[ch]) > 0 {
				b.Channels[ch].AddSample(c.Values[ch][i], frame.Status(c.Status[ch][i]))
			}
		}
	}
	return out
}

// Merge adds buckets to others of the same width; both and the outcome are
// ascending.
func Merge(into, from []Bucket) []Bucket {
	for i := range from {
		at, found := slices.BinarySearchFunc(into, from[i].Index, func(b Bucket, index int64) int {
			return int(min(max(b.Index-index, -1), 1))
		})
		if !found {
			into = slices.Insert(into, at, from[i])
			continue
		}
		for ch := range from[i].Channels {
			into[at].Channels[ch].Add(from[i].Channels[ch])
		}
	}
	return into
}

// Coarser makes buckets that are times as wide.
func Coarser(fine []Bucket, times int64) []Bucket {
	var out []Bucket
	for _, b := range fine {
		b.Index = floorDiv(b.Index, times)
		out = Merge(out, []Bucket{b})
	}
	return out
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}
