package manual

import (
	"fmt"
	"strings"
)

// roff writes a manual page in the macros of man(7).
type roff struct{ strings.Builder }

// line writes a macro with its arguments, each quoted.
func (r *roff) line(macro string, args ...string) {
	r.WriteString("." + macro)
	for _, a := range args {
		fmt.Fprintf(r, ` "%s"`, strings.ReplaceAll(escape(a), `"`, `\(dq`))
	}
	r.WriteByte('\n')
}

// text writes a paragraph's text. A line per sentence is the custom of these
// pages, and lets the formatter space them.
func (r *roff) text(s string) {
	for _, par := range strings.Split(s, "\n") {
		for rest := strings.TrimSpace(par); rest != ""; {
			var sentence string
			sentence, rest = cutSentence(rest)
			r.wrapped(escape(sentence))
		}
	}
}

// longest is how long a line of a page may be, in bytes; mandoc(1) asks for 80.
const longest = 78

// wrapped writes a sentence in lines that are filled anew when it is shown.
func (r *roff) wrapped(s string) {
	line := ""
	for _, w := range strings.Fields(s) {
		if line != "" && len(line)+1+len(w) > longest {
			r.WriteString(guard(line) + "\n")
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += w
	}
	if line != "" {
		r.WriteString(guard(line) + "\n")
	}
}

// cutSentence takes the first sentence off a text.
func cutSentence(s string) (sentence, rest string) {
	for i := 0; i+2 < len(s); i++ {
		if s[i] == '.' && s[i+1] == ' ' && s[i+2] >= 'A' && s[i+2] <= 'Z' {
			return s[:i+1], s[i+2:]
		}
	}
	return s, ""
}

// item begins an entry of a list; what follows is indented below it. The label
// is in roff already.
func (r *roff) item(label string) {
	r.WriteString(".TP\n" + guard(label) + "\n")
}

// literal writes lines as they are typed.
func (r *roff) literal(lines ...string) {
	r.WriteString(".PP\n.nf\n.RS\n")
	for _, l := range lines {
		r.WriteString(guard(escape(l)) + "\n")
	}
	r.WriteString(".RE\n.fi\n")
}

func bold(s string) string   { return `\fB` + escape(s) + `\fR` }
func italic(s string) string { return `\fI` + escape(s) + `\fR` }

// escape makes every character print as it is: a bare hyphen would become a
// dash that can't be pasted, and a byte beyond ASCII depends on the reader's
// locale. Source: groff_char(7), man(7).
func escape(s string) string {
	var b strings.Builder
	for _, c := range s {
		switch {
		case c == '\\':
			b.WriteString(`\e`)
		case c == '-':
			b.WriteString(`\-`)
		case c == '\'':
			b.WriteString(`\(aq`)
		case c == '`':
			b.WriteString(`\(ga`)
		case c == '^':
			b.WriteString(`\(ha`)
		case c == '~':
			b.WriteString(`\(ti`)
		case c > 126:
			fmt.Fprintf(&b, `\[u%04X]`, c)
		default:
			b.WriteRune(c)
		}
	}
	return b.String()
}

// guard keeps a line of text from being read as a request.
func guard(line string) string {
	if strings.HasPrefix(line, ".") {
		return `\&` + line
	}
	return line
}
