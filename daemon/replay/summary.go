package replay

import (
	"encoding/hex"
	"fmt"

	"headroom/rules/engine"
	"headroom/rules/machine"
	"headroom/rules/units"
)

// Summary is a finished replay with what its reader skipped.
type Summary struct {
	Result
	// Skipped is how many rows the reader could not use.
	Skipped uint64
}

// Verdict is the outcome of a recording in one word. The zero value is
// NotJudged, since a recording that no rule could judge is no good news.
type Verdict uint8

// The verdicts, worst last.
const (
	// NotJudged: no rule ever judged.
	NotJudged Verdict = iota
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
	return [...]string{"not_judged", "within_limits", "advice", "warning", "beyond_limits"}[v]
}

// Words returns the verdict for people.
func (v Verdict) Words() string {
	return [...]string{
		"NOT JUDGED: no rule could judge this recording",
		"WITHIN LIMITS, as far as they were judged: no alarm was raised",
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
	return NotJudged // whatever the sensors' alarms said
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
	if span, gaps := (s.Last - s.First).Seconds(), s.GapS(); gaps*20 >= span && gaps > 0 {
		return fmt.Sprintf("%s of %s lie in gaps and were not judged", units.Format(units.Duration, units.SI, gaps), units.Format(units.Duration, units.SI, span))
	}
	seen := 0.0
	for st := range machine.NumStates {
		seen += s.Totals.InStateS[st]
	}
	if unknown := s.Totals.InStateS[machine.Unknown]; unknown > 0 && unknown*2 >= seen {
		return fmt.Sprintf("for %s of %s nothing told what the machine was doing, so most rules could not judge: fit running, shaft_speed or motor_current, or write states.run_outlet",
			units.Format(units.Duration, units.SI, unknown), units.Format(units.Duration, units.SI, seen))
	}
	return ""
}

// GapS is how much of the recording lies in gaps that were too long to bridge,
// in seconds.
func (s *Summary) GapS() float64 {
	if s.Totals.Gaps == 0 {
		return 0
	}
	left := (s.Last - s.First).Seconds()
	for st := range machine.NumStates {
		left -= s.Totals.InStateS[st]
	}
	return max(left, 0)
}

func hexDigest(d []byte) string { return hex.EncodeToString(d) }
