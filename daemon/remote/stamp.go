package remote

import (
	"time"

	"headroom/daemon/store"
)

// place is a position in the record, with all that the next sample depends on.
type place struct {
	// Boot and Minute of it that is sent next, counted from 0.
	Boot   uint64 `json:"boot"`
	Minute int64  `json:"minute"`
	// Stamp is the newest time sent, in milliseconds since 1970, and StampT the
	// boot's own time of that; 0 before the boot's first.
	Stamp  int64         `json:"stamp_ms"`
	StampT time.Duration `json:"stamp_t_ns"`
	// Base are the counters up to the boot's beginning.
	Base store.Sums `json:"base"`
	// Here are those of the boot itself as they were sent last, for the case
	// that it can't be read to its end.
	Here store.Sums `json:"here"`
}

// stamper tells the wall time of a boot's monotonic times. Its times never
// repeat and never go back: a store takes a series only in its order. Where
// better knowledge of the clock says that what was sent lay in the future,
// time goes on at half its pace until the two meet, so that nothing is lost
// and nothing is piled up in one moment.
type stamper struct {
	notes []store.Observation
	at    *place
}

// ms is the time of t in milliseconds; t must not go back.
func (s *stamper) ms(t time.Duration) int64 {
	least := s.at.Stamp + 1
	switch {
	case s.at.Stamp == 0:
		least = 0
	case s.at.StampT == t:
		return s.at.Stamp
	case s.at.StampT > 0:
		least = s.at.Stamp + max(1, (t-s.at.StampT).Milliseconds()/2)
	}
	s.at.Stamp, s.at.StampT = max(wallOf(s.notes, t), least), t
	return s.at.Stamp
}

// wallOf is the wall time in milliseconds by the best notes of the clock, as
// store.WallAt tells it: the most trusted, and of those the nearest; what the
// clock merely said holds from then on. It is done here for a whole batch, as
// each question to the record reads its tail. Without a note it is 0.
func wallOf(notes []store.Observation, t time.Duration) int64 {
	var best *store.Observation
	for i := range notes {
		o := &notes[i]
		if best == nil || o.Trust > best.Trust || o.Trust == best.Trust && nearer(o, best, t) {
			best = o
		}
	}
	if best == nil {
		return 0
	}
	return best.Wall.Add(t - best.T).UnixMilli()
}

// nearer compares notes of the same trust, the later one in order being o.
func nearer(o, best *store.Observation, t time.Duration) bool {
	if o.Trust == store.Seen {
		return o.T <= t && (best.T > t || o.T >= best.T)
	}
	return (o.T - t).Abs() <= (best.T - t).Abs()
}

// trusted reports whether somebody or something vouched for the clock.
func trusted(notes []store.Observation) bool {
	for i := range notes {
		if notes[i].Trust >= store.ByPerson {
			return true
		}
	}
	return false
}
