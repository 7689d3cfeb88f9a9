package replay

import (
	"fmt"
	"slices"
	"time"

	"headroom/rules/frame"
	"headroom/rules/units"
)

// paceRows is how many rows of a recording are looked at for its pace: enough
// for a median, few enough that a look costs nothing.
const paceRows = 10_000

// MaxBridge is the longest gap that may be bridged, as the config has it:
// beyond it no delay and no model means anything.
const MaxBridge = 600 * time.Second

// Pace returns the median step between the first rows of a recording; ok is
// false for a recording of fewer than two rows. An error of src only ends the
// look: whoever replays the recording meets it again.
func Pace(src Source) (step time.Duration, ok bool) {
	var steps []time.Duration
	var f frame.Frame
	last, _, err := src.Next(&f)
	for err == nil && len(steps) < paceRows {
		var t time.Duration
		if t, _, err = src.Next(&f); err == nil {
			steps = append(steps, t-last)
			last = t
		}
	}
	if len(steps) == 0 {
		return 0, false
	}
	slices.Sort(steps)
	return steps[len(steps)/2], true
}

// Bridge is how long a gap to bridge in a recording of that pace: maxGap where
// the rows are closer than that, and else as much as one lost row needs, which
// is two and a half steps. Without it every row of a slow logger would be a
// gap, and nothing would be judged. The error says that the rows lie too far
// apart to be judged at all.
func Bridge(step, maxGap time.Duration) (time.Duration, error) {
	if step <= maxGap {
		return maxGap, nil
	}
	if wide := step * 5 / 2; wide <= MaxBridge {
		return wide, nil
	}
	return maxGap, fmt.Errorf("its rows lie %s apart, and beyond %s nothing can be judged (states.max_gap): record at least every %s",
		seconds(step), seconds(MaxBridge), seconds(MaxBridge*2/5))
}

// BridgeWords says for people what a wider bridge means.
func BridgeWords(step, wide, maxGap time.Duration) string {
	return fmt.Sprintf("The rows lie %s apart (median), so gaps up to %s are bridged instead of states.max_gap, %s. What came and went between two rows was not seen.",
		seconds(step), seconds(wide), seconds(maxGap))
}

func seconds(d time.Duration) string { return units.Format(units.Duration, units.SI, d.Seconds()) }
