package config

import (
	"fmt"
	"math"
	"net"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"headroom/rules/units"
)

// reading is a value understood. Only the part that the kind has is set.
type reading struct {
	number float64
	text   string
	flag   bool
	list   []string
	// share is set where number is a share of the key's ShareOf.
	share bool
}

// trouble is what is wrong with a value and how to mend it.
type trouble struct{ message, mend string }

// convert reads a value as its key wants it.
func convert(k *Key, v value) (reading, *trouble) {
	switch k.Kind {
	case Flag:
		if v.shape != aBoolean {
			return reading{}, wrongShape(v, "true or false", "")
		}
		return reading{flag: v.flag}, nil
	case Number, Count:
		return convertNumber(k, v)
	case Measure:
		return convertMeasure(k, v)
	case Names:
		return convertNames(k, v)
	case Texts:
		return convertTexts(k, v)
	}
	if v.shape != aText {
		return reading{}, wrongShape(v, "a text", ` in quotes`)
	}
	return convertText(k, v.text)
}

func wrongShape(v value, want, extra string) *trouble {
	got := shapeWords[v.shape]
	if v.shape != aList && v.shape != aText {
		got = v.text
	}
	if v.shape == aText {
		got = shortQuote(v.text)
	}
	return &trouble{got + " is not " + want, "write " + want + extra}
}

// shortQuote quotes a value for a message, cut to what a line can hold.
func shortQuote(text string) string {
	if utf8.RuneCountInString(text) > 40 {
		text = string([]rune(text)[:40]) + "..."
	}
	return strconv.Quote(text)
}

func convertNumber(k *Key, v value) (reading, *trouble) {
	want := "a number"
	if k.Kind == Count {
		want = "a whole number"
	}
	if v.shape != anInteger && (v.shape != aFloat || k.Kind == Count) {
		return reading{}, wrongShape(v, want, " without quotes")
	}
	bad := math.IsNaN(v.number) || math.IsInf(v.number, 0) || !k.allows(v.number)
	for i, a := range k.Allowed {
		if float64(a) == v.number {
			break
		}
		bad = bad || i == len(k.Allowed)-1
	}
	if bad {
		return reading{}, &trouble{v.text + " is out of range", "allowed: " + k.allowed(units.Unit{Scale: 1})}
	}
	return reading{number: v.number}, nil
}

func convertNames(k *Key, v value) (reading, *trouble) {
	if v.shape != aList {
		return reading{}, wrongShape(v, "a list", ` such as ["`+k.Choices[0]+`"]`)
	}
	out := reading{list: []string{}}
	for _, item := range v.items {
		if item.shape != aText {
			return reading{}, wrongShape(item, "a text", " in quotes")
		}
		if t := choose(k.Choices, item.text); t != nil {
			return reading{}, t
		}
		out.list = append(out.list, item.text)
	}
	return out, nil
}

// convertTexts takes a list of texts, or one text alone.
func convertTexts(k *Key, v value) (reading, *trouble) {
	if v.shape == aText {
		return reading{list: []string{v.text}}, nil
	}
	if v.shape != aList {
		return reading{}, wrongShape(v, "a list of texts", " such as "+k.sample())
	}
	out := reading{list: []string{}}
	for _, item := range v.items {
		if item.shape != aText {
			return reading{}, wrongShape(item, "a text", " in quotes")
		}
		out.list = append(out.list, item.text)
	}
	return out, nil
}

// choose reports a word that isn't among the choices.
func choose(choices []string, word string) *trouble {
	for _, c := range choices {
		if c == word {
			return nil
		}
	}
	t := &trouble{message: shortQuote(word) + " is not allowed"}
	if best, ok := nearest(word, choices); ok {
		t.mend = "did you mean " + strconv.Quote(best) + "? "
	}
	t.mend += `allowed: "` + strings.Join(choices, `", "`) + `"`
	return t
}

func convertText(k *Key, text string) (reading, *trouble) {
	quote := shortQuote(text)
	switch k.Kind {
	case Choice:
		return reading{text: text}, choose(k.Choices, text)
	case Wire:
		area, ok := wireArea(text)
		if !ok {
			return reading{}, &trouble{quote + " is no conductor's size", `write 0 AWG to 20 AWG or 0.5 mm2 to 60 mm2, for example "12 AWG"`}
		}
		return reading{number: area}, nil
	case Size:
		n, ok := byteSize(text)
		if !ok {
			return reading{}, &trouble{quote + " is no amount of data", `write 1 MB to 100 TB with MB, GB or TB, for example "2 GB"`}
		}
		return reading{number: float64(n)}, nil
	case Address:
		return reading{text: text}, checkAddress(text)
	case Delimiter:
		r, n := utf8.DecodeRuneInString(text)
		if n == 0 || n != len(text) || strings.ContainsRune("\"\r\n\uFFFD", r) {
			return reading{}, &trouble{quote + " is no delimiter", `write one character, for example "," or ";" or "\t"`}
		}
		return reading{number: float64(r)}, nil
	case DateFormat:
		l, ok := layout(text)
		if !ok {
			return reading{}, &trouble{quote + " is no format of a date and time", `write it with YYYY MM DD hh mm ss, for example "YYYY-MM-DD hh:mm:ss", or M D h for numbers without a leading 0 and AM for AM or PM`}
		}
		return reading{text: l}, nil
	}
	// A text with a default is needed, and blanks would only hide that it is missing.
	if len(k.Default) > len(`""`) && strings.TrimSpace(text) == "" {
		return reading{}, &trouble{"is empty", "write something, for example " + k.sample()}
	}
	if i := strings.IndexFunc(text, func(r rune) bool { return unicode.IsControl(r) && r != '\t' }); i >= 0 {
		return reading{}, &trouble{quote + " holds a line end or another character that can't be seen", "write one line of text"}
	}
	return reading{text: text}, nil
}

// CheckAddress says what is wrong with an address to listen at that stands
// outside of a config, with the same words as for one inside.
func CheckAddress(text string) error {
	if t := checkAddress(text); t != nil {
		return fmt.Errorf("%s: %s", t.message, t.mend)
	}
	return nil
}

func checkAddress(text string) *trouble {
	_, port, err := net.SplitHostPort(text)
	n, perr := strconv.ParseUint(port, 10, 16)
	if err != nil || perr != nil || n > 65535 {
		return &trouble{shortQuote(text) + " is no host and port", `write for example "127.0.0.1:8080" for this computer only, or "[::]:8080" for every network`}
	}
	return nil
}

// store puts a reading where the key's field says. The types are those of the
// schema; a test stores every key.
func store(field any, r reading) {
	switch f := field.(type) {
	case *float64:
		*f = r.number
	case *time.Duration:
		*f = time.Duration(math.Round(r.number * float64(time.Second)))
	case *uint32:
		*f = uint32(r.number)
	case *int64:
		*f = int64(r.number)
	case *rune:
		*f = rune(r.number)
	case *string:
		*f = r.text
	case *bool:
		*f = r.flag
	case *[]string:
		*f = r.list
	case func(string):
		f(r.text)
	case func([]string):
		f(r.list)
	default:
		panic(fmt.Sprintf("schema: no way to store into %T", field))
	}
}
