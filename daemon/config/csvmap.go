package config

import (
	"strings"

	"headroom/rules/frame"
	"headroom/rules/units"
)

// CSVMap says how the columns of a recording become channels. With no Columns
// the file has no map.
type CSVMap struct {
	// Delimiter between fields.
	Delimiter rune
	// DecimalComma: numbers are written 1,5 and not 1.5.
	DecimalComma bool
	// Time is the column of time.
	Time CSVTime
	// Columns are those that are read; all others are ignored.
	Columns []CSVColumn
}

// CSVTime is the column of time. Exactly one of Format and Unit is set.
type CSVTime struct {
	// Column is the header's name.
	Column string
	// DateColumn is the header's name of the column of the date, where Column has
	// only the time of day; empty where it has both.
	DateColumn string
	// Format is a layout of package time or a pattern of package csvfile, for
	// dates.
	Format string
	// Unit is "s", "ms", "us" or "ns", for numbers counted from any start.
	Unit string
}

// CSVColumn is one column that feeds one channel. The channel's SI value is
// Unit.ToSI(field*Scale + Offset).
type CSVColumn struct {
	// Name is the header's name.
	Name string
	// Channel it feeds.
	Channel frame.Channel
	// Unit that field*Scale+Offset is in.
	Unit units.Unit
	// Scale and Offset are the sensor's own correction; 1 and 0 for none.
	Scale, Offset float64
	// StatusColumn is the header's name of a column with frame's status names;
	// empty where every value counts as good.
	StatusColumn string

	channel, symbol string
}

// layoutParts turns the letters people write dates in into package time's.
// Longer ones first, so that YYYY is not taken for two YY.
var layoutParts = []string{
	"YYYY", "2006", "MM", "01", "DD", "02",
	"hh", "15", "mm", "04", "ss", "05", "zzz", "Z07:00",
}

// layout returns package time's layout for a date written with YYYY MM DD hh
// mm ss and zzz (a zone such as Z or +01:00). A fraction after the seconds is
// read without being asked for. A pattern with single letters or AM is left to
// the reader of recordings. ok is false where a part that a time needs is
// missing or a letter or digit is left over that would be taken literally.
func layout(text string) (string, bool) {
	if l, ok := goLayout(text); ok {
		return l, true
	}
	return text, text == Epoch || isPattern(text)
}

// Epoch is the format of a number that counts from 1970-01-01 UTC.
const Epoch = "epoch"

// patternWords are the parts of a date as the reader of recordings knows them,
// longer ones first; each kind is needed once, AM where there is one.
var patternWords = [...]struct{ word, kind string }{
	{"YYYY", "Y"}, {"MM", "M"}, {"DD", "D"}, {"hh", "h"}, {"mm", "m"}, {"ss", "s"}, {"AM", "half"}, {"PM", "half"}, {"M", "M"}, {"D", "D"}, {"h", "h"},
}

// isPattern reports whether a text is a date's pattern, such as "M/D/YYYY
// h:mm:ss AM".
func isPattern(text string) bool {
	seen := ""
	for text != "" {
		n := 1
		for _, w := range patternWords {
			if strings.HasPrefix(text, w.word) {
				n, seen = len(w.word), seen+" "+w.kind+" "
				break
			}
		}
		if n == 1 && !strings.ContainsAny(text[:1], "MDhT -/.:,") {
			return false
		}
		text = text[n:]
	}
	for _, kind := range []string{"Y", "M", "D", "h", "m", "s"} {
		if strings.Count(seen, " "+kind+" ") != 1 {
			return false
		}
	}
	return strings.Count(seen, " half ") <= 1
}

func goLayout(text string) (string, bool) {
	rest := text
	for i := 0; i < len(layoutParts); i += 2 {
		if layoutParts[i] != "zzz" && strings.Count(text, layoutParts[i]) != 1 {
			return "", false
		}
		rest = strings.ReplaceAll(rest, layoutParts[i], "")
	}
	rest = strings.ReplaceAll(rest, "T", "")
	if strings.Trim(rest, " -/.:,") != "" {
		return "", false
	}
	return strings.NewReplacer(layoutParts...).Replace(text), true
}
