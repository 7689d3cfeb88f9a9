package review

import (
	"strings"

	"headroom/rules/units"
)

// Part is a piece of a sentence: words as they stand, or an amount that each
// reader sees in their own units.
type Part struct {
	// Words as they stand; empty for an amount.
	Words string
	// Value in the SI unit of Quantity, for an amount.
	Value    float64
	Quantity units.Quantity
	// Evidence is the number, from 1, of the evidence that holds this very
	// value; 0 for none. A page links the amount to it.
	Evidence int
}

// In returns the part in the units of sys.
func (p *Part) In(sys units.System) string {
	if p.Words != "" {
		return p.Words
	}
	return units.Format(p.Quantity, sys, p.Value)
}

// Text returns the sentence in the units of sys, with a full stop.
func (s *Sentence) Text(sys units.System) string {
	var b strings.Builder
	for i := range s.Parts {
		b.WriteString(s.Parts[i].In(sys))
	}
	return b.String()
}

// telling builds a sentence piece by piece.
type telling struct{ Sentence }

// say begins a sentence of a kind.
func say(k Kind, words string) *telling {
	t := &telling{Sentence{Kind: k}}
	return t.words(words)
}

func (t *telling) words(w string) *telling {
	if w != "" {
		t.Parts = append(t.Parts, Part{Words: w})
	}
	return t
}

// amount adds a value that stands in no evidence of its own.
func (t *telling) amount(q units.Quantity, v float64) *telling {
	t.Parts = append(t.Parts, Part{Quantity: q, Value: v})
	return t
}

// shown adds a value together with the evidence it rests on.
func (t *telling) shown(q units.Quantity, e Evidence) *telling {
	t.Evidence = append(t.Evidence, e)
	t.Parts = append(t.Parts, Part{Quantity: q, Value: e.Value, Evidence: len(t.Evidence)})
	return t
}

// rests adds evidence for the sentence as a whole.
func (t *telling) rests(e ...Evidence) *telling {
	t.Evidence = append(t.Evidence, e...)
	return t
}
