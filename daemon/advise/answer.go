package advise

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"
	"text/tabwriter"

	"headroom/rules/units"
)

// Value is one number of an answer, in SI.
type Value struct {
	// Name of the number and Unit, its SI unit.
	Name string `json:"name"`
	// Value is never NaN or infinite: a number that isn't known is left out.
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
}

// Advice is the answer to a topic: for programs in numbers, for people in
// sentences.
type Advice struct {
	// Topic is the question's name.
	Topic string `json:"topic"`
	// Verdict is a stable key, such as "yes", "marginal" or "no".
	Verdict string `json:"verdict"`
	// Headline is the verdict in a sentence, Text the paragraphs below it.
	Headline string   `json:"headline"`
	Text     []string `json:"text"`
	// Table is printed after the text, its first row as the head.
	Table [][]string `json:"-"`
	// Help are what would help, one sentence or two each.
	Help []string `json:"help,omitempty"`
	// Notes say what was assumed and how far to trust it.
	Notes []string `json:"notes"`
	// Values are the numbers, in SI.
	Values []Value `json:"values"`
	// Caution is always the package's Caution.
	Caution string `json:"caution"`

	sys units.System
}

// say adds a paragraph.
func (a *Advice) say(format string, args ...any) {
	a.Text = append(a.Text, fmt.Sprintf(format, args...))
}

// note adds a note.
func (a *Advice) note(format string, args ...any) {
	a.Notes = append(a.Notes, fmt.Sprintf(format, args...))
}

// help adds something that would help.
func (a *Advice) help(format string, args ...any) {
	a.Help = append(a.Help, fmt.Sprintf(format, args...))
}

// put adds a number for programs and returns it as people read it.
func (a *Advice) put(name string, q units.Quantity, si float64) string {
	if !math.IsNaN(si) && !math.IsInf(si, 0) {
		a.Values = append(a.Values, Value{name, si, units.SISymbol(q)})
	}
	return a.show(q, si)
}

// show is a number as people read it.
func (a *Advice) show(q units.Quantity, si float64) string { return units.Format(q, a.sys, si) }

// size is a bore or a line's diameter as the trade writes it, without zeros at
// the end.
func (a *Advice) size(m float64) string {
	number, unit, _ := strings.Cut(a.show(units.Bore, m), " ")
	if strings.Contains(number, ".") {
		number = strings.TrimRight(strings.TrimRight(number, "0"), ".")
	}
	return number + " " + unit
}

// putSize adds a bore for programs and returns it as the trade writes it.
func (a *Advice) putSize(name string, m float64) string {
	a.put(name, units.Bore, m)
	return a.size(m)
}

// between is a range as people read it, its unit once.
func (a *Advice) between(q units.Quantity, lo, hi float64) string {
	low, high := a.show(q, lo), a.show(q, hi)
	if low == high {
		return low
	}
	if i := strings.LastIndexByte(low, ' '); i > 0 && strings.HasSuffix(high, low[i:]) {
		low = low[:i]
	}
	return low + " to " + high
}

// JSON writes the answer for programs.
func (a Advice) JSON(w io.Writer) error {
	a.Caution = Caution
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(a); err != nil {
		return fmt.Errorf("cannot write the advice: %w", err)
	}
	return nil
}

// WriteText writes the answer for people.
func (a Advice) WriteText(w io.Writer) error {
	b := &strings.Builder{}
	paragraph(b, "", a.Headline)
	for _, t := range a.Text {
		b.WriteByte('\n')
		paragraph(b, "", t)
	}
	a.table(b)
	list(b, "What would help:", a.Help)
	list(b, "Mind:", a.Notes)
	b.WriteByte('\n')
	paragraph(b, "", Caution)
	if _, err := io.WriteString(w, b.String()); err != nil {
		return fmt.Errorf("cannot write the advice: %w", err)
	}
	return nil
}

func (a Advice) table(b *strings.Builder) {
	if len(a.Table) == 0 {
		return
	}
	b.WriteByte('\n')
	tw := tabwriter.NewWriter(b, 0, 0, 3, ' ', tabwriter.AlignRight)
	for _, row := range a.Table {
		fmt.Fprintf(tw, "%s\t\n", strings.Join(row, "\t"))
	}
	tw.Flush() // a Builder takes everything
}

func list(b *strings.Builder, title string, items []string) {
	if len(items) == 0 {
		return
	}
	fmt.Fprintf(b, "\n%s\n", title)
	for _, it := range items {
		paragraph(b, "* ", it)
	}
}

// paragraph writes text in lines of at most 78 characters; a bullet hangs.
func paragraph(b *strings.Builder, bullet, text string) {
	indent := strings.Repeat(" ", len(bullet))
	line, n := bullet, len(bullet)
	for i, word := range strings.Fields(text) {
		size := len([]rune(word))
		if i > 0 && n+1+size > 78 {
			b.WriteString(line + "\n")
			line, n = indent, len(indent)
		} else if i > 0 {
			line, n = line+" ", n+1
		}
		line, n = line+word, n+size
	}
	b.WriteString(line + "\n")
}
