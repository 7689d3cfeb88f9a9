package dashboard

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/units"
)

func TestTypedNumber(t *testing.T) {
	for _, c := range []struct{ text, want, refused, source string }{
		{"60", "60 psi", "", "the unit beside the field"},
		{" 60 ", "60 psi", "", ""},
		{"4 bar", "4 bar", "", "a unit of its own"},
		{"4bar", "4 bar", "", ""},
		{"4,1", "4.1 psi", "", "ISO 80000-1: a comma on the line is a decimal sign"},
		{"4,1 bar", "4.1 bar", "", ""},
		{"0,125", "0.125 psi", "", "no thousands begin with 0"},
		{"-0,5", "-0.5 psi", "", ""},
		{"6.68e-06 gpm", "6.68e-06 gpm", "", "a program writes small numbers so"},
		{"1e3", "1e3 psi", "", ""},
		{"e5", "", "no number", ""},
		{"1,500", "", "1500 or 1.500", "a comma parts thousands in the US"},
		{"1,500,000", "", "thousands", ""},
		{"1.500,5", "", "thousands", ""},
		{"psi", "", "no number", ""},
		{"", "", "no number", ""},
	} {
		got, err := typedNumber(c.text, "psi")
		if c.refused != "" {
			require.ErrorContains(t, err, c.refused, c.text)
			continue
		}
		require.NoError(t, err, c.text)
		require.Equal(t, c.want, got, c.text)
	}
}

func FuzzTypedNumber(f *testing.F) {
	for _, s := range []string{"60", "4,1 gpm", "1,500", ",", "-,5", "1e3 Pa", "4 °C"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := typedNumber(text, "psi")
		if err == nil {
			require.NotEmpty(t, got)
			_, _ = units.Parse(units.Pressure, got)
		}
		otherUnit(text, units.For(units.Pressure, units.US), units.For(units.Pressure, units.SI))
	})
}

// A bare number counts in the unit that stood beside it when it was written.
func TestAdviceFormTakesPlainNumbers(t *testing.T) {
	d := newDay(t)
	h := d.handler(steady())
	ask := func(q string) string { return text(t, get(t, h, "/start/advice/supply?"+q)) }

	us := ask("in=US&static=60&flowing-flow=4,1&flowing-pressure=48&job=45")
	require.Contains(t, us, "<p>60 psi</p>")
	require.Contains(t, us, "<p>4.1 gpm @ 48 psi</p>")
	require.Contains(t, us, "<p>45 min</p>")

	// The same address for somebody who reads the other system: the same
	// question, its numbers shown in that system's units.
	si := text(t, get(t, h, "/start/advice/supply?in=US&static=60&flowing-flow=4&flowing-pressure=48&wanted=2+bar", func(r *http.Request) {
		r.AddCookie(&http.Cookie{Name: unitsCookie, Value: "SI"})
	}))
	require.Contains(t, si, "<p>60 psi</p>")
	require.Contains(t, si, `name="static" value="413.7"`, "60 psi = 413.685 kPa, NIST SP 811")
	require.Contains(t, si, `name="wanted" value="2 bar"`)
	require.Contains(t, si, `name="in" value="SI"`)

	// An address with the command's own words is taken apart.
	old := ask("units=US&static=62+psi&flowing=" + url.QueryEscape("4.1 gpm @ 48 psi"))
	require.Contains(t, old, "<p>4.1 gpm @ 48 psi</p>")
	require.Contains(t, old, `name="flowing-flow" value="4.1"`)

	for q, want := range map[string]string{
		"in=US&static=60&flowing-flow=4":           "wants both",
		"in=US&flowing-flow=4&flowing-pressure=48": "“Pressure without flow” is needed",
		"in=US&static=1,500":                       "“Pressure without flow”: &#34;1,500&#34; can be read in two ways",
	} {
		require.Contains(t, plain(ask(q)), want, q)
	}
}

// What is needed comes first and is marked; the rest is folded away, and open
// when something is written in it.
func TestAdviceFormIsShort(t *testing.T) {
	d := newDay(t)
	h := d.handler(steady())
	page := text(t, get(t, h, "/start/advice/supply"))
	first, more, ok := strings.Cut(page, "<details class=\"apart\"><summary>More, if you know it")
	require.True(t, ok)
	require.Equal(t, 2, strings.Count(first, `<b class="mark">needed</b>`))
	require.Equal(t, 3, strings.Count(first, `inputmode="decimal"`), "static, and a flow with its pressure")
	require.Contains(t, more, `name="wanted"`)
	require.Contains(t, more, "Without it: 30 min.")
	require.Contains(t, text(t, get(t, h, "/start/advice/line?gauge=14+AWG")), `<details class="apart" open>`)
	require.Contains(t, text(t, get(t, h, "/start/advice/line?gauge=14+AWG")), "<option selected>14 AWG")
	require.Equal(t, http.StatusNotFound, get(t, h, "/start/advice/weather").StatusCode)
}
