package alarm

import "time"

// The figures of chatter and flood. Sources: EEMUA 191 and ANSI/ISA-18.2 for
// three times a minute and for more than ten in ten minutes, ended below five
// (the last from memory); the hold is common practice, no source.
const (
	// ChatterCount raisings within ChatterWindow are chatter.
	ChatterCount  = 3
	ChatterWindow = time.Minute
	// ChatterHold is how long a chattering alarm must be clear before it goes
	// back.
	ChatterHold = 30 * time.Second
	// FloodCount annunciations within FloodWindow are a flood; it ends when
	// fewer than FloodEnd are left in the window.
	FloodCount  = 10
	FloodEnd    = 5
	FloodWindow = 10 * time.Minute
)

// Chatter remembers an alarm's last raisings.
type Chatter struct {
	last [ChatterCount]time.Duration
	n    int
}

// Note adds a raising at time t.
func (c *Chatter) Note(t time.Duration) {
	copy(c.last[1:], c.last[:ChatterCount-1])
	c.last[0] = t
	c.n = min(c.n+1, ChatterCount)
}

// On reports whether the alarm chatters at time t.
func (c *Chatter) On(t time.Duration) bool {
	return c.n == ChatterCount && t-c.last[ChatterCount-1] <= ChatterWindow
}

// Flood remembers the last annunciations of all alarms.
type Flood struct {
	last [FloodCount + 1]time.Duration
	n    int
	on   bool
}

// Note adds an annunciation at time t.
func (f *Flood) Note(t time.Duration) {
	copy(f.last[1:], f.last[:FloodCount])
	f.last[0] = t
	f.n = min(f.n+1, FloodCount+1)
}

// Step reports whether there is a flood at time t.
func (f *Flood) Step(t time.Duration) bool {
	in := 0
	for i := range f.n {
		if t-f.last[i] <= FloodWindow {
			in++
		}
	}
	if in > FloodCount {
		f.on = true
	}
	if in < FloodEnd {
		f.on = false
	}
	return f.on
}
