package dashboard

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"headroom/rules/units"
)

// typedPart is the number at the start of what was written, with its exponent if
// it has one: no unit begins with an e and a digit.
var typedPart = regexp.MustCompile(`^(?:[-+.,0-9]+(?:[eE][-+]?[0-9]+)?)?`)

// typedNumber is what a person wrote as a number with the unit that stands
// beside the field, for units.Parse. A unit that was written too is left as it
// is. A comma is a decimal comma where it can't be anything else; where it may
// as well part the thousands, it is refused.
func typedNumber(text, unit string) (string, error) {
	text = strings.TrimSpace(text)
	number := typedPart.FindString(text)
	rest := strings.TrimSpace(text[len(number):])
	whole, decimals, comma := strings.Cut(number, ",")
	switch {
	case !comma:
	case strings.ContainsAny(decimals, ",.") || strings.Contains(whole, "."):
		return "", fmt.Errorf("%q has signs that part its thousands; write the number without them", text)
	case len(decimals) == 3 && strings.Trim(whole, "+-0") != "":
		return "", fmt.Errorf("%q can be read in two ways; write %s or %s", text, whole+decimals, whole+"."+decimals)
	default:
		number = whole + "." + decimals
	}
	if rest == "" {
		rest = unit
	}
	if number == "" {
		return "", fmt.Errorf("%q is no number", text)
	}
	return strings.TrimSpace(number + " " + rest), nil
}

// otherUnit shows a number that was written in one unit in another, with the
// digits that it had and one more. What has a unit of its own stays as written.
func otherUnit(text string, from, to units.Unit) string {
	n, err := typedNumber(text, "")
	if err != nil || from.Symbol == to.Symbol {
		return text
	}
	v, err := strconv.ParseFloat(n, 64)
	if err != nil {
		return text
	}
	return strconv.FormatFloat(to.FromSI(from.ToSI(v)), 'f', to.Decimals+1, 64)
}
