package config

import (
	"strings"

	"headroom/rules/units"
)

// Form says how a key's value is written, for the manual: its kind, the units
// or words it may have, and its range; empty for a text, of which there is
// nothing to say.
func (k *Key) Form() string {
	switch {
	case k.Kind == Measure:
		return k.measureForm()
	case k.Kind == Text:
		return ""
	case len(k.Choices) > 0 && k.Kind == Choice:
		return "one of " + choiceList(k.Choices)
	case len(k.Choices) > 0:
		return "a list of " + choiceList(k.Choices)
	case k.Kind == Number || k.Kind == Count:
		if len(k.Allowed) == 0 && !k.ranged() {
			return "a " + k.Kind.String()
		}
		return "a " + k.Kind.String() + ": " + k.allowed(units.Unit{Scale: 1})
	}
	return k.Kind.String()
}

func (k *Key) measureForm() string {
	text := "a " + quantityNames[k.Quantity] + " in " + strings.Join(units.Symbols(k.Quantity), ", ")
	if k.ShareOf != "" {
		text += ", or in % of " + k.ShareOf
	}
	if k.ranged() {
		text += "; " + k.allowed(units.For(k.Quantity, units.SI))
	}
	return text
}

func choiceList(words []string) string { return `"` + strings.Join(words, `", "`) + `"` }
