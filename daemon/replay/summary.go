package replay

import (
	"encoding/hex"
	"fmt"

	"headroom/rules/engine"
)

// Summary is a finished replay with what its reader skipped.
type Summary struct {
	Result
	// Skipped is how many rows the reader could not use.
	Skipped uint64
}

// Verdict is the outcome of a recording in one word. The zero value is
// NothingSeen, since a recording that no rule could judge is no good news.
type Verdict uint8

// The verdicts, worst last.
const (
	// NothingSeen: no rule ever judged.
	NothingSeen Verdict = iota
	// WithinLimits: at least one rule judged and no alarm was raised.
	WithinLimits
	// LookedAt: an alarm of level advice was raised.
	LookedAt
	// Warned: a warning was raised.
	Warned
	// BeyondLimits: an alarm that asks to act at once was raised.
	BeyondLimits
)

// String returns the verdict for programs.
func (v Verdict) String() string {
	return [...]string{"nothing_seen", "within_limits", "advice", "warning", "beyond_limits"}[v]
}

// Words returns the verdict for people.
func (v Verdict) Words() string {
	return [...]string{
		"NOTHING SEEN: no rule could judge this recording",
		"WITHIN LIMITS: no alarm was raised",
		"ADVICE: nothing dangerous, something to look at",
		"WARNING: at least one limit came close",
		"BEYOND LIMITS: at least one limit was crossed",
	}[v]
}

// Verdict returns the recording's outcome from the alarms that were raised.
func (s *Summary) Verdict() Verdict {
	for r := range engine.NumRules {
		if s.Totals.Exposures[r].WatchedS > 0 {
			return WithinLimits + Verdict(s.WorstLevel)
		}
	}
	return NothingSeen // whatever the sensors' alarms said
}

// Doubt says in words why the verdict may not be worth much; empty when there
// is no reason.
func (s *Summary) Doubt() string {
	all := s.Totals.Frames + s.Skipped
	switch {
	case s.Totals.Frames == 0:
		return "no row could be used"
	case s.Skipped*20 >= all:
		return fmt.Sprintf("%d of %d rows could not be used", s.Skipped, all)
	}
	return ""
}

func hexDigest(d []byte) string { return hex.EncodeToString(d) }
