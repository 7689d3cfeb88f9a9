package dashboard

import (
	"fmt"
	"strings"
	"time"

	"headroom/daemon/review"
	"headroom/rules/engine"
	"headroom/rules/words"
)

// openRows of the account and of the alarms stand on the page at once; a bad day
// has a thousand.
const openRows = 20

// inShort says in a few lines what an owner asks first: what came first, how bad
// it was, which limit was passed longest, who saw it, and whether the pump ran
// on. Every line says only what the account below says with its evidence.
func inShort(acc *review.Account) []string {
	if len(acc.Summary.Alarms) == 0 {
		return []string{"No alarm came up in what was recorded." + blindNote(acc)}
	}
	var out []string
	for _, line := range []string{firstLine(acc), countLine(acc), longestLine(acc), ranOnLine(acc)} {
		if line != "" {
			out = append(out, line)
		}
	}
	return out
}

func firstLine(acc *review.Account) string {
	for i := range acc.Summary.Alarms {
		if l := &acc.Summary.Alarms[i]; l.First {
			return fmt.Sprintf("It began with “%s” (%s), %s.", l.Title, strings.ToLower(l.Level.Words()), intoIt(&acc.Head, l.Raised))
		}
	}
	return ""
}

// intoIt is a moment counted from the start, which an alarm of the minutes before
// comes ahead of.
func intoIt(h *review.Head, t time.Duration) string {
	whole := "the run"
	if h.ID.N == 0 {
		whole = "the boot"
	}
	if t < h.Start {
		return lasting((h.Start - t).Seconds()) + " before " + whole
	}
	return lasting((t - h.Start).Seconds()) + " into " + whole
}

func countLine(acc *review.Account) string {
	act, other, acked := 0, 0, 0
	for i := range acc.Summary.Alarms {
		l := &acc.Summary.Alarms[i]
		if l.Level == engine.Act {
			act++
		} else {
			other++
		}
		if l.HasAck {
			acked++
		}
	}
	return fmt.Sprintf("%s asked to act at once, %d of a lower level came too; acknowledged: %d of %d.", counted(act, "alarm", "alarms"), other, acked, act+other)
}

func longestLine(acc *review.Account) string {
	var worst *review.LimitSum
	for i := range acc.Summary.Limits {
		if l := &acc.Summary.Limits[i]; l.BeyondActS > 0 && (worst == nil || l.BeyondActS > worst.BeyondActS) {
			worst = l
		}
	}
	// The sums of a run that goes on are some seconds behind its alarms.
	if worst == nil {
		return ""
	}
	return fmt.Sprintf("Longest beyond its limit: %s, %s in all.", strings.ToLower(words.Rule(worst.Rule)), lasting(worst.BeyondActS))
}

func ranOnLine(acc *review.Account) string {
	n := 0
	for i := range acc.Sentences {
		if acc.Sentences[i].Kind == review.KindRanOn {
			n++
		}
	}
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("The pump ran on after %s that asked to act at once.", counted(n, "alarm", "alarms"))
}

// blindNote says where no alarm doesn't mean that all was well.
func blindNote(acc *review.Account) string {
	var blind []string
	for i := range acc.Summary.Limits {
		if l := &acc.Summary.Limits[i]; l.BlindS > 0 {
			blind = append(blind, strings.ToLower(words.Rule(l.Rule)))
		}
	}
	if len(blind) == 0 {
		return ""
	}
	return " Not judged all the time: " + strings.Join(blind, "; ") + "."
}
