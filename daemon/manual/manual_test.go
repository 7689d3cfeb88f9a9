package manual

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/daemon/config"
)

// example has what completions tell apart: a command within a command, values
// that are files, folders and neither, words that want quoting.
func example() *Program {
	return &Program{Version: "1.2", Date: time.Date(2026, 1, 31, 23, 0, 0, 0, time.UTC), Commands: []Command{
		{Name: "run", Args: "[flags]", Help: "watch", Flags: []Flag{{Name: "config", Arg: "file", Usage: "the machine's [own] config: one"}, {Name: "v", Usage: "log more"}}},
		{Name: "record", Args: "list", Help: "what was recorded"},
		{Name: "record list", Help: "list it", Flags: []Flag{{Name: "record", Arg: "folder", Usage: "where"}, {Name: "boot", Arg: "number", Usage: "which", Default: "3"}}},
		{Name: "check", Args: "FILE...", Help: "name mistakes", Files: true},
		{Name: "calibrate", Help: "correct it", Words: []string{"flow"}},
	}}
}

func TestUnder(t *testing.T) {
	p := example()
	require.Equal(t, []string{"run", "record", "check", "calibrate"}, p.under(""))
	require.Equal(t, []string{"list"}, p.under("record"))
	require.Empty(t, p.under("run"))
	require.Equal(t, []string{"flow"}, p.next(&p.Commands[4]))
	require.Equal(t, p.Commands[0].Flags, p.root().Flags, "without a command run is meant")
}

// TestEscape: source: groff_char(7), and man(7) on hyphens and quotes.
func TestEscape(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"plain", "plain"},
		{"-config", `\-config`},
		{`a\b`, `a\eb`},
		{"it's", `it\(aqs`},
		{"60 °C", `60 \[u00B0]C`},
		{"~/x^2`", `\(ti/x\(ha2\(ga`},
	} {
		require.Equal(t, c.want, escape(c.text))
	}
}

// TestWrapped: no line is too long unless it is one word, none is a request,
// and nothing but the breaks is changed.
func TestWrapped(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		words := rapid.SliceOf(rapid.StringMatching(`[.'a-z°-]{1,30}`)).Draw(r, "words")
		var out roff
		out.wrapped(escape(strings.Join(words, " ")))
		var back []string
		for l := range strings.Lines(out.String()) {
			l = strings.TrimSuffix(l, "\n")
			require.NotRegexp(r, `^[.']`, l)
			require.True(r, len(l) <= longest+2 || !strings.Contains(l, " "), l)
			back = append(back, strings.Fields(strings.TrimPrefix(l, `\&`))...)
		}
		for i := range words {
			words[i] = escape(words[i])
		}
		require.Equal(r, strings.Join(words, " "), strings.Join(back, " "))
	})
}

func TestCutSentence(t *testing.T) {
	for _, c := range []struct{ text, first, rest string }{
		{"One. Two.", "One.", "Two."},
		{"About 0.5 m. more", "About 0.5 m. more", ""},
		{"", "", ""},
	} {
		first, rest := cutSentence(c.text)
		require.Equal(t, c.first, first)
		require.Equal(t, c.rest, rest)
	}
}

func TestPages(t *testing.T) {
	p := example()
	page := p.CommandsPage()
	require.True(t, strings.HasPrefix(page, ".TH HEADROOM 1 2026-01-31 \"headroom 1.2\" headroom\n"))
	require.Contains(t, page, ".SS \"headroom record list\"\nList it.\n.TP\n")
	require.Contains(t, page, "Which.\nThe default is 3.\n")
	settings := p.SettingsPage(config.Schema())
	require.Contains(t, settings, ".SS \"[channels.flow]\"")
	require.Contains(t, settings, `\fBrated_pressure\fR = "9 MPa"`)
	require.Contains(t, settings, ".TP\n\\fBstuck_after\\fR\n", "what holds for several sections stands before them")
}

func TestQuoting(t *testing.T) {
	require.Equal(t, `'it'\''s'`, shellQuote("it's"))
	require.Equal(t, `'it\'s \\ x'`, fishQuote(`it's \ x`))
	require.Equal(t, `a\:b \[c\] \\`, zshEscape(`a:b [c] \`))
}
