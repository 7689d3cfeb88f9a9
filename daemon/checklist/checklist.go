// Package checklist keeps what a person goes through before the machine is
// started: the list itself, which its owner may change, and how the last round
// went. It owns both files and the words in which a round is put into the
// record. It refuses to judge the machine and to hold back its start: a point
// that nobody ticked is written down as not confirmed, and that is all it does.
package checklist

import (
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
)

// Item is one point of the list.
type Item struct {
	// Text says what to look at, Why what happens else; Why may be empty.
	Text string `json:"text"`
	Why  string `json:"why,omitempty"`
}

// List is the points in the order in which a person walks around the machine.
type List struct {
	Items []Item `json:"items"`
}

// Mark is what a person says of one point.
type Mark uint8

// The marks. The zero value is that nobody confirmed it.
const (
	Open Mark = iota
	// Done: looked at, and it is as it must be.
	Done
	// NotHere: it doesn't exist on this machine or on this job.
	NotHere
)

// The limits of a list: what one person goes through on one page.
const (
	MaxItems = 40
	maxText  = 120
	maxWhy   = 300
)

// Default is the list that the trade expects: common practice, no source. With
// engine it has what an exhaust makes necessary in place of the circuit.
func Default(engine bool) List {
	items := []Item{
		{"Oil of the pump between the marks, and clear", "Milky oil has water in it; a pump without oil seizes within minutes."},
		{"Inlet filter clean and seated", "A blocked filter starves the pump, a missing one lets grit into the valves."},
		{"Supply run clear: tap fully open, nothing else draws water", "Half a tap is half the flow; a flushing toilet takes the rest."},
		{"Supply hose sound, without a kink, of enough bore", "A thin or long hose takes the pressure before the pump sees it."},
		{"High-pressure hose, fittings and gun without damage", "A burst hose whips, and water from it goes through skin."},
	}
	if engine {
		items = append(items,
			Item{"Engine outdoors, exhaust leads away from people, doors and windows", "Carbon monoxide has no smell and kills indoors, in garages and in manholes."},
			Item{"Carbon monoxide alarm on where the exhaust can reach anybody", "An open window is no protection."},
			Item{"Fuel tank closed, no spill, engine oil in order", "Fuel on a hot engine burns."})
	} else {
		items = append(items,
			Item{"GFCI (RCD) tested with its button, and reset", "It is what stands between a wet cord and a person."},
			Item{"Cord sound, unrolled, heavy enough for current and length", "A thin or coiled cord gets hot and lets the motor run weak."})
	}
	return List{append(items,
		Item{"Air purged: water runs without bubbles before the pump starts", "Air in the pump knocks at the valves and looks like starvation."},
		Item{"Nozzle past the first bend, and marked hose in sight", "A nozzle that turns back comes out at the person who holds the hose."},
		Item{"Goggles, gloves and boots on; helper knows the stop signal", "Drain water is infectious, and the jet cuts."})}
}

// Parse reads a list as people write it: a point a line, its reason after a
// vertical bar. Empty lines are left out. The error says which line and how to
// mend it.
func Parse(text string) (List, error) {
	var l List
	for n, line := range strings.Split(text, "\n") {
		what, why, _ := strings.Cut(line, "|")
		it := Item{Text: tidy(what), Why: tidy(why)}
		switch {
		case it == Item{}:
			continue
		case it.Text == "":
			return List{}, fmt.Errorf("line %d has a reason but no point: write the point before the bar", n+1)
		case len([]rune(it.Text)) > maxText || len([]rune(it.Why)) > maxWhy:
			return List{}, fmt.Errorf("line %d is too long: %d characters for the point and %d for its reason are the most", n+1, maxText, maxWhy)
		}
		l.Items = append(l.Items, it)
	}
	return l, l.Validate()
}

// Validate says what is wrong with a list, and how to mend it.
func (l List) Validate() error {
	if n := len(l.Items); n == 0 || n > MaxItems {
		return fmt.Errorf("a list has 1 to %d points, and this one %d", MaxItems, n)
	}
	seen := map[string]bool{}
	for _, it := range l.Items {
		if it.Text == "" || it.Text != tidy(it.Text) || it.Why != tidy(it.Why) || len([]rune(it.Text)) > maxText || len([]rune(it.Why)) > maxWhy {
			return fmt.Errorf("%q is no point: write one short line", it.Text)
		}
		if seen[it.Text] {
			return fmt.Errorf("%q stands in the list twice: leave one out", it.Text)
		}
		seen[it.Text] = true
	}
	return nil
}

// String writes the list as Parse reads it.
func (l List) String() string {
	var b strings.Builder
	for _, it := range l.Items {
		b.WriteString(it.Text)
		if it.Why != "" {
			b.WriteString(" | " + it.Why)
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// tidy makes a text one line of visible characters.
func tidy(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case !unicode.IsPrint(r) || r == '|':
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, ""))
	return strings.Join(strings.Fields(s), " ")
}

// Round is one time that a person went through the list.
type Round struct {
	// When by the wall clock, and Who as the person gave the name.
	When time.Time `json:"when"`
	Who  string    `json:"who"`
	// Done, NotHere and Open are the texts of the points by their mark, and
	// Remark what the person added.
	Done    []string `json:"done,omitempty"`
	NotHere []string `json:"not_here,omitempty"`
	Open    []string `json:"open,omitempty"`
	Remark  string   `json:"remark,omitempty"`
}

// maxRemark is the longest remark, in characters.
const maxRemark = 500

// errMarks is a round over another list than the one in force.
var errMarks = errors.New("the list was changed meanwhile: go through it again")

// Go makes a round of one mark a point.
func (l List) Go(marks []Mark, who, remark string, when time.Time) (Round, error) {
	if len(marks) != len(l.Items) {
		return Round{}, errMarks
	}
	r := Round{When: when, Who: who, Remark: tidy(remark)}
	if len([]rune(r.Remark)) > maxRemark {
		return Round{}, fmt.Errorf("the remark is too long: %d characters are the most", maxRemark)
	}
	for i, it := range l.Items {
		switch marks[i] {
		case Done:
			r.Done = append(r.Done, it.Text)
		case NotHere:
			r.NotHere = append(r.NotHere, it.Text)
		default:
			r.Open = append(r.Open, it.Text)
		}
	}
	return r, nil
}

// Whole reports whether every point was confirmed or doesn't apply.
func (r *Round) Whole() bool { return len(r.Open) == 0 && len(r.Done)+len(r.NotHere) > 0 }

// Words is the round in sentences, as it stands in the record. What was not
// confirmed comes first: it is what matters later.
func (r *Round) Words() string {
	n := len(r.Done) + len(r.NotHere) + len(r.Open)
	text := fmt.Sprintf("%d of %d points confirmed.", len(r.Done), n)
	for _, part := range []struct {
		name  string
		texts []string
	}{{"Not confirmed", r.Open}, {"Not on this machine or job", r.NotHere}, {"Confirmed", r.Done}} {
		if len(part.texts) > 0 {
			text += " " + part.name + ": " + strings.Join(part.texts, "; ") + "."
		}
	}
	if r.Remark != "" {
		text += " Remark: " + r.Remark
	}
	return text
}
