package sensors

import (
	"sync"
	"time"

	"headroom/rules/frame"
)

// Board holds the latest reading of every channel. Drivers post to it at their
// own pace; the tick takes a frame from it. Neither ever waits for the other
// longer than a copy takes, so that a hung bus costs its own channels a status
// and nothing else.
type Board struct {
	mu     sync.Mutex
	fitted [frame.NumChannels]bool
	stale  [frame.NumChannels]time.Duration
	latest [frame.NumChannels]Reading
	seen   [frame.NumChannels]bool
}

// NewBoard makes a board. staleAfter gives, for each channel, the age beyond
// which a reading no longer counts; 0 means that the channel isn't fitted.
func NewBoard(staleAfter [frame.NumChannels]time.Duration) *Board {
	b := &Board{stale: staleAfter}
	for c, d := range staleAfter {
		b.fitted[c] = d > 0
	}
	return b
}

// Post stores a reading. A reading of a channel that isn't fitted, or one
// older than what the board has, is dropped. Safe for use by many goroutines.
func (b *Board) Post(r Reading) {
	if r.Channel >= frame.NumChannels {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if !b.fitted[r.Channel] || b.seen[r.Channel] && r.At < b.latest[r.Channel].At {
		return
	}
	b.latest[r.Channel], b.seen[r.Channel] = r, true
}

// Fail marks channels as failed, as the supervisor does when a driver ends.
// The last value stays, for evidence.
func (b *Board) Fail(at time.Duration, note string, channels ...frame.Channel) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, c := range channels {
		if c >= frame.NumChannels || !b.fitted[c] {
			continue
		}
		b.latest[c].Channel, b.latest[c].At, b.latest[c].Note = c, at, note
		b.latest[c].Sample.Status = frame.Failed
		b.seen[c] = true
	}
}

// Frame fills f with what the board knows at the monotonic time now: channels
// that aren't fitted, that never spoke, or whose reading is too old say so.
func (b *Board) Frame(now time.Duration, f *frame.Frame) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for c := range f.Samples {
		f.Samples[c] = b.sample(frame.Channel(c), now)
	}
}

func (b *Board) sample(c frame.Channel, now time.Duration) frame.Sample {
	switch {
	case !b.fitted[c]:
		return frame.Sample{}
	case !b.seen[c]:
		return frame.Sample{Status: frame.Missing}
	}
	s := b.latest[c].Sample
	// A reading out of band may be a bound, and a bound grows old like a value.
	if (s.OK() || s.Status == frame.OutOfBand) && now-b.latest[c].At > b.stale[c] {
		s.Status = frame.Stale
	}
	return s
}

// Notes returns the drivers' own words on each channel, empty where all is
// well.
func (b *Board) Notes() (notes [frame.NumChannels]string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for c := range notes {
		if b.seen[c] {
			notes[c] = b.latest[c].Note
		}
	}
	return notes
}
