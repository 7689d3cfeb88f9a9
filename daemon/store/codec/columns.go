package codec

import (
	"math"

	"headroom/rules/frame"
)

// NoWall is the wall of a frame that came without a wall time.
const NoWall = math.MinInt64

// Columns are frames, column by column. The zero value holds none.
type Columns struct {
	// T is the monotonic time in ns, Wall the wall time in ns since 1970 less
	// T, or NoWall.
	T, Wall []int64
	// Values and Status of the channels, empty for a channel of which every
	// frame holds the zero sample.
	Values [frame.NumChannels][]float64
	Status [frame.NumChannels][]byte
}

// Len is the number of frames.
func (c *Columns) Len() int { return len(c.T) }

// Reset empties the columns and keeps their room.
func (c *Columns) Reset() {
	c.T, c.Wall = c.T[:0], c.Wall[:0]
	for i := range c.Values {
		c.Values[i], c.Status[i] = c.Values[i][:0], c.Status[i][:0]
	}
}

// Append adds a frame.
func (c *Columns) Append(t, wall int64, f *frame.Frame) {
	n := len(c.T)
	c.T, c.Wall = append(c.T, t), append(c.Wall, wall)
	for i := range f.Samples {
		s := &f.Samples[i]
		if len(c.Status[i]) == 0 {
			if s.Status == 0 && math.Float64bits(s.Value) == 0 {
				continue
			}
			c.Values[i] = zeros(c.Values[i], n)
			c.Status[i] = zeros(c.Status[i], n)
		}
		c.Values[i] = append(c.Values[i], s.Value)
		c.Status[i] = append(c.Status[i], byte(s.Status))
	}
}

// zeros makes n zeros in a slice's room.
func zeros[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	s = s[:n]
	clear(s)
	return s
}

// Frame puts frame i into f.
func (c *Columns) Frame(i int, f *frame.Frame) {
	for ch := range f.Samples {
		if len(c.Status[ch]) == 0 {
			f.Samples[ch] = frame.Sample{}
			continue
		}
		f.Samples[ch] = frame.Sample{Value: c.Values[ch][i], Status: frame.Status(c.Status[ch][i])}
	}
}
