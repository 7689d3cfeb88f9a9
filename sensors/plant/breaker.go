package plant

import "math"

// One breaker out of the band that standards allow: it carries 115 percent for
// ever, trips at 200 percent from cold in about 60 s and at once beyond ten
// ratings. Between the calibration points of UL 489 (135 percent within an
// hour, 200 percent within 120 s up to 30 A) this is invented.
const (
	breakerLevel   = 1.15 * 1.15
	breakerTauS    = 150.0
	breakerInstant = 10.0
)

// stepBreaker heats the breaker and lets it trip. A reset needs it to have
// cooled below its level, as a real one does not latch while hot.
func (p *Plant) stepBreaker(s *State, in *Inputs, dtS float64) {
	i := s.CurrentA / p.cfg.Circuit.BreakerA
	s.BreakerHeat += (i*i - s.BreakerHeat) * (1 - math.Exp(-dtS/breakerTauS))
	switch {
	case s.BreakerHeat >= breakerLevel || i >= breakerInstant:
		s.Tripped = true
	case in.ResetBreaker && s.BreakerHeat < 0.9*breakerLevel:
		s.Tripped = false
	}
}
