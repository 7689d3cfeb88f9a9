package outputs

import "time"

// Pattern is how a lamp or a horn goes on and off. The zero value is off.
type Pattern struct {
	// On is how long it is on; 0 is off for good.
	On time.Duration
	// Off is how long it is off in between; 0 is on for good.
	Off time.Duration
}

// PatternByName returns the pattern of a config's word: "off", "steady", "slow"
// or "quick"; ok is false for any other. Slow is 0.5 Hz and quick 2 Hz, inside
// the ranges that IEC 60073 gives for slow (0.4 to 0.8 Hz) and normal flashing
// (1.4 to 2.8 Hz); these ranges are from memory and were not checked against
// the standard.
func PatternByName(name string) (p Pattern, ok bool) {
	switch name {
	case "off":
		return Pattern{}, true
	case "steady":
		return Pattern{On: time.Second}, true
	case "slow":
		return Pattern{On: time.Second, Off: time.Second}, true
	case "quick":
		return Pattern{On: 250 * time.Millisecond, Off: 250 * time.Millisecond}, true
	}
	return Pattern{}, false
}

// Lit tells whether the pattern is on, the time t after it began.
func (p Pattern) Lit(t time.Duration) bool {
	switch {
	case p.On <= 0 || t < 0:
		return false
	case p.Off <= 0:
		return true
	}
	return t%(p.On+p.Off) < p.On
}

// Signal is what beacon and horn shall do.
type Signal struct{ Beacon, Horn Pattern }
