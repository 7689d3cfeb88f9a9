package review

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"headroom/rules/units"
	"headroom/rules/words"
)

// TextOptions say how an account is written for a terminal.
type TextOptions struct {
	Units units.System
	// Zone of clock times; nil for UTC.
	Zone *time.Location
	// Width of a line in characters; 0 for 96, at least 40.
	Width int
}

// clockAt returns the best known wall time of a moment of the account; ok is
// false where the clock is not known.
func (h *Head) clockAt(t time.Duration) (wall time.Time, ok bool) {
	if h.Clock == ClockUnknown {
		return time.Time{}, false
	}
	return h.StartWall.Add(t - h.Start), true
}

// Since returns a moment as people count it: from the start of the run, or of
// the account, as +m:ss.s or +h:mm:ss; a moment before it has a minus sign.
func (h *Head) Since(t time.Duration) string {
	d, sign := t-h.Start, "+"
	if d < 0 {
		d, sign = -d, "−"
	}
	d = d.Round(100 * time.Millisecond)
	if d >= time.Hour {
		return fmt.Sprintf("%s%d:%02d:%02d", sign, int(d.Hours()), int(d.Minutes())%60, int(d.Seconds())%60)
	}
	return fmt.Sprintf("%s%d:%04.1f", sign, int(d.Minutes()), (d % time.Minute).Seconds())
}

// ClockTime returns a moment's time of day in a zone, with tenths of a second;
// empty where the clock is not known.
func (h *Head) ClockTime(t time.Duration, zone *time.Location) string {
	wall, ok := h.clockAt(t)
	if !ok {
		return ""
	}
	return wall.In(zoneOr(zone)).Round(100 * time.Millisecond).Format("15:04:05.0")
}

func zoneOr(z *time.Location) *time.Location {
	if z == nil {
		return time.UTC
	}
	return z
}

// Began returns the date and time of the start with what is known of the clock.
func (h *Head) Began(zone *time.Location) string {
	wall, ok := h.clockAt(h.Start)
	if !ok {
		return h.Clock.Words()
	}
	return wall.In(zoneOr(zone)).Format("2006-01-02 15:04:05 MST") + " (" + h.Clock.Words() + ")"
}

// WriteText writes the account for a terminal.
func (a *Account) WriteText(w io.Writer, o TextOptions) error {
	if o.Width == 0 {
		o.Width = 96
	}
	o.Width = max(o.Width, 40)
	b := &strings.Builder{}
	h := &a.Head
	title := "Run " + h.ID.String()
	if h.ID.N == 0 {
		title = "Boot " + strconv.FormatUint(h.ID.Boot, 10)
	}
	if band := h.Source.Band(); band != "" {
		rule := strings.Repeat("=", o.Width) + "\n"
		b.WriteString(rule)
		wrap(b, "", band, o.Width)
		b.WriteString(rule)
	}
	fmt.Fprintf(b, "%s, %s\n%s\n\n", title, Named(h.Machine), h.Began(o.Zone))
	for i := range a.Sentences {
		s := &a.Sentences[i]
		at := fmt.Sprintf("%-10s %-8s ", h.ClockTime(s.From, o.Zone), h.Since(s.From))
		if s.Kind == KindExposure {
			at = strings.Repeat(" ", utf8.RuneCountInString(at))
		}
		wrap(b, at, s.Text(o.Units), o.Width)
	}
	a.Summary.writeText(b, h, o)
	if len(a.CannotTell) > 0 {
		b.WriteString("\nWhat the record can not tell\n")
		for i := range a.CannotTell {
			wrap(b, "  - ", a.CannotTell[i].Text(o.Units), o.Width)
		}
	}
	b.WriteString("\nheadroom is an aid and no certified safety device.\n")
	_, err := io.WriteString(w, b.String())
	return err
}

func (s *Summary) writeText(b *strings.Builder, h *Head, o TextOptions) {
	fmt.Fprintf(b, "\nIn all\n  %-28s %s\n", "from start to end", units.Format(units.Duration, o.Units, s.Span.Seconds()))
	for _, st := range s.States {
		fmt.Fprintf(b, "  %-28s %s\n", Lower(st.State.Words()), units.Format(units.Duration, o.Units, st.Seconds))
	}
	if h.ID.N > 0 {
		fmt.Fprintf(b, "  %-28s %d\n", "starts of the pump", s.Starts)
		fmt.Fprintf(b, "  %-28s %s\n", "water drawn", s.Water(o.Units))
		if s.EnergyJ > 0 {
			fmt.Fprintf(b, "  %-28s %s\n", "energy (volts times amps)", units.Format(units.Energy, o.Units, s.EnergyJ))
		}
	}
	if len(s.Limits) > 0 {
		b.WriteString("\nLeast room to each limit\n")
	}
	for i := range s.Limits {
		l := &s.Limits[i]
		if l.HasRoom() {
			fmt.Fprintf(b, "  %-28s %-14s at %s\n", words.Rule(l.Rule), Room(l, o.Units), h.Since(l.Worst.T))
		}
	}
}

// HasRoom reports whether the least room to a limit is known and an amount; a
// grade has none.
func (l *LimitSum) HasRoom() bool {
	return l.HasWorst && l.Rule.Spec().Difference != units.None
}

// Room returns the least room to a limit with its unit; negative means beyond.
func Room(l *LimitSum, sys units.System) string {
	return units.Format(l.Rule.Spec().Difference, sys, l.Worst.Headroom)
}

// wrap writes a text behind a head, and goes on below the text where the line
// is full.
func wrap(b *strings.Builder, head, text string, width int) {
	indent := utf8.RuneCountInString(head)
	b.WriteString(head)
	col := indent
	for i, word := range strings.Fields(text) {
		n := utf8.RuneCountInString(word)
		if i > 0 && col+1+n > width {
			b.WriteString("\n" + strings.Repeat(" ", indent))
			col = indent
		} else if i > 0 {
			b.WriteByte(' ')
			col++
		}
		b.WriteString(word)
		col += n
	}
	b.WriteByte('\n')
}
