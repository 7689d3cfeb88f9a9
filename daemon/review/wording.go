package review

import (
	"context"

	"headroom/daemon/config"
	"headroom/daemon/store"
	"headroom/rules/engine"
)

// Ended says how a run ended, as store.Run.Ended has it, in a few words; what
// this version doesn't know stays as it is.
func Ended(how string) string {
	if e, ok := endings[how]; ok {
		return e.short
	}
	return how
}

func endedSentence(how string) string {
	if e, ok := endings[how]; ok {
		return e.sentence
	}
	return "The run ended (" + how + ")."
}

var endings = map[string]struct{ short, sentence string }{
	"stopped": {"the pump stopped", "The pump stopped, and stood for longer than a pause: the run ended."},
	"closed":  {"the program was ended", "The program was ended here, and the run with it."},
	"cut":     {"cut off, as by the power", "The record breaks off here, as when the power is cut."},
	"":        {"still going on when read", "The run was still going on when this was read."},
}

// Named is a machine's name, or says that it has none.
func Named(machine string) string {
	if machine == "" {
		return "machine without a name"
	}
	return machine
}

// OrUnknown is what the record says, or says that it doesn't.
func OrUnknown(text string) string {
	if text == "" {
		return "not known"
	}
	return text
}

// Lower makes a label fit into a sentence: what begins with an abbreviation
// stays as it is.
func Lower(s string) string {
	if len(s) < 2 || s[0] < 'A' || s[0] > 'Z' || s[1] >= 'A' && s[1] <= 'Z' {
		return s
	}
	return string(s[0]+'a'-'A') + s[1:]
}

// LimitsOf are the rules that judged in a run or should have, in their order.
func LimitsOf(sum *store.Summary) (out []LimitSum) {
	for r := range engine.NumRules {
		x, summed := sum.Sums.Exposures[r.String()]
		w, judged := sum.Worst[r.String()]
		if summed || judged {
			out = append(out, LimitSum{Rule: r, ExposureSums: x, Worst: w, HasWorst: judged})
		}
	}
	return out
}

// LeastRoom is the limit that was come closest to, by its share of ample; nil
// where none has an amount of room.
func LeastRoom(limits []LimitSum) (least *LimitSum) {
	for i := range limits {
		l := &limits[i]
		if l.HasRoom() && (least == nil || l.Worst.Share < least.Worst.Share) {
			least = l
		}
	}
	return least
}

// ConfigOf reads a configuration by its hash. held is whether the record has it;
// cfg is nil also where this version can't read it.
func ConfigOf(ctx context.Context, r Record, hash string) (cfg *config.Config, held bool, err error) {
	text, held, err := r.Config(ctx, hash)
	if err != nil || !held {
		return nil, false, err
	}
	cfg, problems := config.Parse("the config of the record", text)
	if len(config.Mistakes(problems)) > 0 {
		return nil, true, nil
	}
	return cfg, true, nil
}
