package access

import (
	"net/netip"
	"time"
)

// The patience with wrong PINs. One address gets freeTries and then waits,
// twice as long after each further one; all addresses together get no more
// than a try each allEvery, after a burst. At that pace half of all PINs take
// three years (10^8 / 2 tries, one each 2 s), and somebody on the local net for
// all that time is no stranger.
const (
	freeTries = 5
	firstWait = 30 * time.Second
	longest   = 15 * time.Minute
	allEvery  = 2 * time.Second
	allBurst  = 10
	// maxSources bounds the memory that guesses take; beyond, the one that was
	// seen longest ago is forgotten, and the pace for all still holds.
	maxSources = 256
)

// source is an address with its wrong tries.
type source struct {
	from  netip.Prefix
	wrong int
	until time.Duration
	seen  time.Duration
}

// limiter is the patience. Its times are of a clock that never jumps.
type limiter struct {
	sources []source
	// full is when the burst for all will be whole again.
	full time.Duration
}

func newLimiter() limiter { return limiter{full: -allBurst * allEvery} }

// network is whom an address stands for: with IPv6 one host has a whole /64.
func network(a netip.Addr) netip.Prefix {
	a = a.Unmap().WithZone("")
	bits := 32
	if a.Is6() {
		bits = 64
	}
	p, _ := a.Prefix(bits) // the zero address gives the zero prefix, which is one source too
	return p
}

func (l *limiter) find(from netip.Addr) *source {
	n := network(from)
	for i := range l.sources {
		if l.sources[i].from == n {
			return &l.sources[i]
		}
	}
	return nil
}

// wait returns how long this address must wait from now, 0 when its try counts;
// then the try is counted among those of all.
func (l *limiter) wait(from netip.Addr, now time.Duration) time.Duration {
	if s := l.find(from); s != nil && s.until > now {
		return s.until - now
	}
	if ahead := l.full - now; ahead > (allBurst-1)*allEvery {
		return ahead - (allBurst-1)*allEvery
	}
	l.full = max(l.full, now) + allEvery
	return 0
}

// wrong notes a wrong PIN.
func (l *limiter) wrong(from netip.Addr, now time.Duration) {
	s := l.find(from)
	if s == nil {
		s = l.room()
		*s = source{from: network(from)}
	}
	s.wrong++
	s.seen = now
	if over := s.wrong - freeTries; over >= 0 {
		s.until = now + min(longest, firstWait<<min(over, 10))
	}
}

// room is a place for one more source.
func (l *limiter) room() *source {
	if len(l.sources) < maxSources {
		l.sources = append(l.sources, source{})
		return &l.sources[len(l.sources)-1]
	}
	oldest := &l.sources[0]
	for i := range l.sources {
		if l.sources[i].seen < oldest.seen {
			oldest = &l.sources[i]
		}
	}
	return oldest
}

// right forgives what an address got wrong before.
func (l *limiter) right(from netip.Addr) {
	if s := l.find(from); s != nil {
		s.wrong, s.until = 0, 0
	}
}
