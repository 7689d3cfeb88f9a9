package store

import (
	"slices"
	"strings"
	"unicode"
)

// Plain makes a text that people wrote, or that came in a file from elsewhere,
// one line of visible characters. The record's texts are printed on terminals
// and into lists, where a line end would forge a line and a control character
// change the screen.
func Plain(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case !unicode.IsPrint(r):
			return -1
		}
		return r
	}, strings.ToValidUTF8(text, ""))
}

// Plain is the act with its texts made Plain.
func (a Act) Plain() Act {
	a.Who, a.What, a.Alarm, a.Text = Plain(a.Who), Plain(a.What), Plain(a.Alarm), Plain(a.Text)
	a.With = slices.Clone(a.With) // the caller's own stay as they are
	for i := range a.With {
		a.With[i] = Plain(a.With[i])
	}
	return a
}
