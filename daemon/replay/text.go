package replay

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"

	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/machine"
	"headroom/rules/units"
	"headroom/rules/words"
)

// Text writes a replay for people.
type Text struct {
	w   io.Writer
	sys units.System
}

// NewText writes to w in the units of sys.
func NewText(w io.Writer, sys units.System) *Text { return &Text{w, sys} }

// Transition writes one alarm's coming or going on a line.
func (x *Text) Transition(tr engine.Transition, wall time.Time) {
	mark := "     "
	if tr.First {
		mark = "first"
	}
	verb := "returned to normal"
	if tr.Raised {
		verb = tr.Level.Words()
	}
	at := x.at(tr.T, wall)
	under := ""
	if tr.Raised && tr.HasCause {
		under = "; follows from: " + words.Alarm(tr.Under).Title
		if _, sensor := tr.Alarm.Channel(); sensor {
			under = "; at once with: " + words.Alarm(tr.Under).Title
		}
	}
	fmt.Fprintf(x.w, "%s  %s %-18s  %s%s%s\n", at, mark, verb, words.Alarm(tr.Alarm).Title, x.detail(tr), under)
}

// at writes a time, with the wall time where the recording states one.
func (x *Text) at(t time.Duration, wall time.Time) string {
	at := units.Format(units.Duration, x.sys, t.Seconds())
	if !wall.IsZero() {
		at = wall.Format("2006-01-02 15:04:05.0") + "  " + at
	}
	return at
}

// Act writes what a person did on a line.
func (x *Text) Act(a Act, ok bool, wall time.Time) {
	what := strings.ReplaceAll(a.Act.String(), "_", " ")
	if a.Act == alarm.Shelve {
		what += " for " + x.seconds(a.Shelf.Seconds())
	}
	if !ok {
		what += " (means nothing here)"
	}
	who := ""
	if a.Who != "" {
		who = " by " + a.Who
	}
	fmt.Fprintf(x.w, "%s        %-18s  %s: %s%s\n", x.at(a.T, wall), "person", words.Alarm(a.Alarm).Title, what, who)
}

func (x *Text) detail(tr engine.Transition) string {
	r, ok := tr.Alarm.Rule()
	if !ok {
		return " (" + tr.Status.Words() + ")"
	}
	if !tr.Raised {
		return ""
	}
	if r == engine.Frost && tr.Assumed { // the value stands for a class of danger
		return " (the water is near freezing; how long it takes isn't known)"
	}
	return fmt.Sprintf(" (%s, limit %s)", x.amount(r, tr.Value), x.amount(r, tr.Limit))
}

// amount writes a rule's value or limit: a word where it is a grade.
func (x *Text) amount(r engine.RuleID, v float64) string {
	if word, ok := words.Grade(r, v); ok {
		return word
	}
	return units.Format(r.Spec().Quantity, x.sys, v)
}

// Summary writes the report at the end.
func (x *Text) Summary(s *Summary) error {
	t := &s.Totals
	b := &strings.Builder{}
	fmt.Fprintf(b, "\n%d frames over %s", t.Frames, x.seconds((s.Last - s.First).Seconds()))
	fmt.Fprintf(b, ", %d gaps, %d rows skipped\n", t.Gaps+t.Rejected, s.Skipped)
	x.states(b, s)
	x.alarms(b, s)
	x.exposures(b, s)
	x.notWatching(b, s)
	if s.Digest != nil {
		fmt.Fprintf(b, "\nVerdict digest (SHA-256 over every verdict): %s\n", hexDigest(s.Digest))
	}
	fmt.Fprintf(b, "\nVerdict: %s\n", s.Verdict().Words())
	if d := s.Doubt(); d != "" {
		fmt.Fprintf(b, "But %s: the verdict is on the rest alone.\n", d)
	}
	_, err := io.WriteString(x.w, b.String())
	return err
}

func (x *Text) seconds(v float64) string { return units.Format(units.Duration, x.sys, v) }

func (x *Text) states(b *strings.Builder, s *Summary) {
	var parts []string
	for st := range machine.NumStates {
		if d := s.Totals.InStateS[st]; d > 0 {
			parts = append(parts, st.Words()+" "+x.seconds(d))
		}
	}
	if len(parts) == 0 {
		parts = []string{"not judged, every row stands alone"}
	}
	fmt.Fprintf(b, "Machine: %s; starts: %d; water: %s\n", strings.Join(parts, ", "), s.Totals.Starts,
		x.water(s))
}

// water is what was drawn, where anything measured it.
func (x *Text) water(s *Summary) string {
	if s.Totals.FlowS == 0 {
		return "not measured"
	}
	return units.Format(units.Volume, x.sys, s.Totals.WaterM3)
}

func (x *Text) alarms(b *strings.Builder, s *Summary) {
	fmt.Fprint(b, "\nAlarms raised\n")
	none := true
	for i := range engine.AlarmID(engine.NumAlarms) {
		n := s.Totals.Raised[i]
		if n == 0 {
			continue
		}
		none = false
		first := ""
		if s.Totals.HasFirst && s.Totals.FirstOut == i {
			first = "  (came first)"
		}
		fmt.Fprintf(b, "  %3d x  %s%s\n", n, words.Alarm(i).Title, first)
	}
	if none {
		fmt.Fprint(b, "  none\n")
	}
}

func (x *Text) exposures(b *strings.Builder, s *Summary) {
	tw := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	assumed := false
	fmt.Fprint(tw, "\nLimit\twatched\tcould not judge\tbeyond warning\tbeyond limit\tleast headroom\tat\n")
	for r := range engine.NumRules {
		e := &s.Totals.Exposures[r]
		if e.WatchedS == 0 && e.BlindS == 0 {
			continue
		}
		worst, at := "--", "--"
		if e.Seen {
			worst = units.Format(r.Spec().Difference, x.sys, e.WorstHeadroom)
			at = x.seconds(e.WorstAt.Seconds())
		}
		mark := ""
		if e.AssumedS > 0 {
			mark, assumed = " *", true
		}
		fmt.Fprintf(tw, "%s%s\t%s\t%s\t%s\t%s\t%s\t%s\n", words.Rule(r), mark, x.seconds(e.WatchedS), x.seconds(e.BlindS),
			x.seconds(e.BeyondWarnS), x.seconds(e.BeyondActS), worst, at)
	}
	tw.Flush()
	if assumed {
		fmt.Fprint(b, "* at times on a figure that was assumed or computed, neither measured nor on a plate\n")
	}
}

// notWatching names the rules that never judged, with the last reason.
func (x *Text) notWatching(b *strings.Builder, s *Summary) {
	if s.Totals.Frames == 0 {
		return
	}
	for r := range engine.NumRules {
		e := &s.Totals.Exposures[r]
		if e.WatchedS > 0 || e.BlindS > 0 {
			continue
		}
		v := &s.Final.Rules[r]
		if v.Judge == engine.Watching {
			fmt.Fprintf(b, "Not judged: %s: %s\n", words.Rule(r), neverWatched(s))
			continue
		}
		blame := ""
		if v.Judge == engine.NotFitted {
			blame = " (" + v.Blame.Label() + ")"
		}
		fmt.Fprintf(b, "Not judged: %s: %s%s\n", words.Rule(r), v.Why(), blame)
	}
}

// neverWatched says why a rule that could judge the last row has watched for
// no time at all.
func neverWatched(s *Summary) string {
	if s.Totals.Gaps > 0 {
		return "never between two rows without a gap (states.max_gap)"
	}
	return "only at the last row"
}
