package remote

import "time"

// widths from the finest to none at all.
var widths = [...]width{width(time.Second), width(10 * time.Second), width(minute), 0}

// bare is the index of the width without readings.
const bare = len(widths) - 1

// guesses of what a minute costs in bytes at each width, before the first
// message has told: as the demo's eleven channels came to in messages of one
// minute, without TLS.
var guesses = [len(widths)]float64{13500, 3800, 2700, 2000}

// spent is what a day has cost.
type spent struct {
	// Day since 1970, UTC, and the bytes on the wire of it.
	Day   int64 `json:"day"`
	Bytes int64 `json:"bytes"`
	// Cost of a minute at each width as it was seen lately, 0 for never.
	Cost [len(widths)]float64 `json:"cost"`
}

// of takes bytes to the day's account.
func (s *spent) of(now time.Time, bytes int64) {
	if day := now.Unix() / 86400; day != s.Day {
		s.Day, s.Bytes = day, 0
	}
	s.Bytes += bytes
}

// learn takes what a message of some minutes at a width has cost.
func (s *spent) learn(i int, bytes int64, minutes int) {
	if minutes < 1 || bytes < 1 {
		return
	}
	one := float64(bytes) / float64(minutes)
	if s.Cost[i] == 0 {
		s.Cost[i] = one
		return
	}
	const weight = 0.2 // of the newest: some ten messages are remembered
	s.Cost[i] += weight * (one - s.Cost[i])
}

func (s *spent) cost(i int) float64 {
	if s.Cost[i] > 0 {
		return s.Cost[i]
	}
	return guesses[i]
}

// choose is the index of the finest width that the rest of the day can pay for:
// its own minutes, all of them, and those that lie behind. The day is full when
// not even bare minutes fit, and they are sent all the same.
func (s *spent) choose(now time.Time, budget int64, behind int64) int {
	if budget == 0 {
		return 1
	}
	s.of(now, 0)
	left := 1440 - now.Unix()%86400/60 + behind
	for i := range widths {
		if float64(budget-s.Bytes) >= s.cost(i)*float64(left) {
			return i
		}
	}
	return bare
}
