package whatif

import (
	"fmt"
	"io"
	"strings"
	"time"

	"headroom/rules/engine"
	"headroom/rules/units"
	"headroom/rules/words"
)

// Counts is how many rows are of each kind.
func (a *Answer) Counts() map[Kind]int {
	out := map[Kind]int{}
	for i := range a.Rows {
		out[a.Rows[i].Kind]++
	}
	return out
}

// Headline is the answer in one sentence.
func (a *Answer) Headline() string {
	n := a.Counts()
	if a.Identical {
		return "No difference: every verdict of every frame is the same."
	}
	var parts []string
	for _, k := range []struct {
		kind Kind
		word string
	}{{New, "new"}, {Gone, "gone"}, {Earlier, "earlier"}, {Later, "later"}, {Lasting, "of another length or severity"}} {
		if n[k.kind] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n[k.kind], k.word))
		}
	}
	if len(parts) == 0 {
		return "The same alarms at the same times; only the room to the limits differs."
	}
	return "Alarms: " + strings.Join(parts, ", ") + fmt.Sprintf("; %d the same.", n[Same])
}

// Words says how a row differs.
func (r *Row) Words(sys units.System) string {
	dur := func(d time.Duration) string { return units.Format(units.Duration, sys, d.Abs().Seconds()) }
	switch r.Kind {
	case Same:
		return "the same"
	case Earlier:
		return dur(r.Lead) + " earlier: that much lead won"
	case Later:
		return dur(r.Lead) + " later"
	case New:
		return "new: it would have come"
	case Gone:
		return "gone: it would not have come"
	}
	if r.Then.Level != r.Other.Level {
		return "at the same time, as " + strings.ToLower(r.Other.Level.Words()) + " instead of " + strings.ToLower(r.Then.Level.Words())
	}
	switch {
	case !r.Other.HasGone:
		return "comes at the same time, and still stands at the end"
	case !r.Then.HasGone:
		return "comes at the same time, and is gone before the end"
	case r.Other.Gone > r.Then.Gone:
		return "comes at the same time, and stands " + dur(r.Other.Gone-r.Then.Gone) + " longer"
	}
	return "comes at the same time, and stands " + dur(r.Then.Gone-r.Other.Gone) + " less"
}

// Caution is what every answer must be read with.
const Caution = "The readings are those of then. Other limits change only when an alarm comes. Another hose, nozzle or pump " +
	"changes only what the rules work out from these readings: with it the readings themselves would have been others."

// WriteText writes the answer for a terminal.
func (a *Answer) WriteText(w io.Writer, sys units.System) error {
	b := &strings.Builder{}
	title := "Run " + a.ID.String()
	if a.ID.N == 0 {
		title = "Boot " + a.ID.String()
	}
	if band := a.Source.Band(); band != "" {
		fmt.Fprintf(b, "%s\n\n", band)
	}
	fmt.Fprintf(b, "%s, what if\n", title)
	for i := range a.Changed {
		fmt.Fprintf(b, "  %s = %s\n", a.Changed[i].Name(), a.Changed[i].Value)
	}
	fmt.Fprintf(b, "\n%s\n", a.Headline())
	if len(a.Rows) > 0 {
		fmt.Fprintf(b, "\n%-10s %-10s %-9s %s\n", "then", "what if", "severity", "alarm")
	}
	for i := range a.Rows {
		a.writeRow(b, &a.Rows[i], sys)
	}
	a.writeDoubts(b)
	fmt.Fprintf(b, "\n%s\nheadroom is an aid and no certified safety device.\n", Caution)
	_, err := io.WriteString(w, b.String())
	return err
}

func (a *Answer) writeRow(b *strings.Builder, r *Row, sys units.System) {
	x := r.alarm()
	fmt.Fprintf(b, "%-10s %-10s %-9s %s\n%32s%s\n", a.since(r.Then), a.since(r.Other), x.Level.Words(), x.Title(), "", r.Words(sys)+limits(r, sys))
}

// limits tells of a limit that differs.
func limits(r *Row, sys units.System) string {
	if r.Then == nil || r.Other == nil || r.Then.Limit == r.Other.Limit {
		return ""
	}
	rule, ok := r.Then.ID.Rule()
	if !ok {
		return ""
	}
	return " (limit " + amount(rule, sys, r.Then.Limit) + ", what if " + amount(rule, sys, r.Other.Limit) + ")"
}

// amount writes a rule's value: a word where it is a grade.
func amount(r engine.RuleID, sys units.System, v float64) string {
	if word, ok := words.Grade(r, v); ok {
		return word
	}
	return units.Format(r.Spec().Quantity, sys, v)
}

// since is when an alarm came, counted from the start.
func (a *Answer) since(x *Alarm) string {
	if x == nil {
		return "-"
	}
	d := (x.Raised - a.Start).Round(100 * time.Millisecond)
	return fmt.Sprintf("+%d:%04.1f", int(d.Minutes()), (d % time.Minute).Seconds())
}

func (a *Answer) writeDoubts(b *strings.Builder) {
	if n := len(a.Asis); n > 0 {
		fmt.Fprintf(b, "\nUnder the settings in force then this version gives %d alarms otherwise than recorded (version %s).\n", n, a.Software)
	}
	for i := range a.Lost {
		fmt.Fprintf(b, "\n%v; from there on neither side is sure.\n", &a.Lost[i])
	}
}
