package dashboard

import (
	"fmt"
	"html"
	"html/template"
	"regexp"
	"strings"
)

// heading is a second heading with the name by which it can be reached.
type heading struct{ ID, Text string }

// markdown turns our own texts into a page: headings, paragraphs, lists, tables,
// code and pictures, in the plain way in which they are written. It is no reader
// for texts of others: whatever it does not know it shows as it is, and every
// letter of the text is escaped. Pictures are looked for below base. The first
// heading is left out, since the page has it.
func markdown(text, base string) (template.HTML, []heading) {
	m := &marked{base: base, lines: strings.Split(strings.ReplaceAll(text, "\r\n", "\n"), "\n")}
	for m.at < len(m.lines) {
		m.block()
	}
	return template.HTML(m.b.String()), m.heads // #nosec: every text went through inline.
}

type marked struct {
	b     strings.Builder
	base  string
	lines []string
	at    int
	heads []heading
}

var (
	headLine  = regexp.MustCompile(`^(#{1,4}) +(.*)$`)
	itemLine  = regexp.MustCompile(`^(?:[*-]|\d+\.) +(.*)$`)
	tableRule = regexp.MustCompile(`^\|?[ :|-]+\|?$`)
	notInID   = regexp.MustCompile(`[^a-z0-9]+`)
)

// block writes one block and goes behind it.
func (m *marked) block() {
	line := m.lines[m.at]
	switch {
	case strings.TrimSpace(line) == "":
		m.at++
	case strings.HasPrefix(line, "```"):
		m.fence()
	case strings.HasPrefix(line, "    "):
		m.indented()
	case headLine.MatchString(line):
		m.heading(headLine.FindStringSubmatch(line))
	case strings.HasPrefix(line, "|") && m.at+1 < len(m.lines) && tableRule.MatchString(m.lines[m.at+1]):
		m.table()
	case itemLine.MatchString(line):
		m.list()
	default:
		m.paragraph()
	}
}

func (m *marked) heading(match []string) {
	m.at++
	level, text := len(match[1]), match[2]
	if level == 1 {
		return
	}
	id := "s-" + strings.Trim(notInID.ReplaceAllString(strings.ToLower(text), "-"), "-")
	if level == 2 {
		m.heads = append(m.heads, heading{id, strings.NewReplacer("`", "", "*", "").Replace(text)})
		fmt.Fprintf(&m.b, "<h2 id=\"%s\">%s</h2>\n", id, m.inline(text))
		return
	}
	fmt.Fprintf(&m.b, "<h%d>%s</h%d>\n", level, m.inline(text), level)
}

func (m *marked) fence() {
	m.at++
	m.b.WriteString("<pre tabindex=\"0\"><code>")
	for ; m.at < len(m.lines) && !strings.HasPrefix(m.lines[m.at], "```"); m.at++ {
		m.b.WriteString(html.EscapeString(m.lines[m.at]) + "\n")
	}
	m.at++
	m.b.WriteString("</code></pre>\n")
}

func (m *marked) indented() {
	m.b.WriteString("<pre tabindex=\"0\"><code>")
	for ; m.at < len(m.lines) && strings.HasPrefix(m.lines[m.at], "    "); m.at++ {
		m.b.WriteString(html.EscapeString(m.lines[m.at][4:]) + "\n")
	}
	m.b.WriteString("</code></pre>\n")
}

func (m *marked) list() {
	tag := "ul"
	if c := m.lines[m.at][0]; c >= '0' && c <= '9' {
		tag = "ol"
	}
	m.b.WriteString("<" + tag + " class=\"marks\">\n")
	for m.at < len(m.lines) {
		match := itemLine.FindStringSubmatch(m.lines[m.at])
		if match == nil {
			break
		}
		text := match[1]
		for m.at++; m.at < len(m.lines) && strings.HasPrefix(m.lines[m.at], "  "); m.at++ {
			text += " " + strings.TrimSpace(m.lines[m.at])
		}
		m.b.WriteString("<li>" + m.inline(text) + "</li>\n")
	}
	m.b.WriteString("</" + tag + ">\n")
}

func (m *marked) table() {
	// A wide table scrolls by itself, and by keyboard, so that the page doesn't.
	m.b.WriteString("<div class=\"scroll\" tabindex=\"0\" role=\"group\" aria-label=\"Table\"><table>\n<thead><tr>")
	for _, c := range cells(m.lines[m.at]) {
		m.b.WriteString("<th scope=\"col\">" + m.inline(c) + "</th>")
	}
	m.b.WriteString("</tr></thead>\n<tbody>\n")
	for m.at += 2; m.at < len(m.lines) && strings.HasPrefix(m.lines[m.at], "|"); m.at++ {
		m.b.WriteString("<tr>")
		for _, c := range cells(m.lines[m.at]) {
			m.b.WriteString("<td>" + m.inline(c) + "</td>")
		}
		m.b.WriteString("</tr>\n")
	}
	m.b.WriteString("</tbody></table></div>\n")
}

// cells splits a row; an escaped bar stays in its cell.
func cells(row string) (out []string) {
	row = strings.Trim(strings.ReplaceAll(row, `\|`, "\x00"), "| ")
	for _, c := range strings.Split(row, "|") {
		out = append(out, strings.TrimSpace(strings.ReplaceAll(c, "\x00", "|")))
	}
	return out
}

func (m *marked) paragraph() {
	var parts []string
	for ; m.at < len(m.lines); m.at++ {
		line := m.lines[m.at]
		if strings.TrimSpace(line) == "" || len(parts) > 0 && (headLine.MatchString(line) || itemLine.MatchString(line) || strings.HasPrefix(line, "|")) {
			break
		}
		parts = append(parts, strings.TrimSpace(line))
	}
	m.b.WriteString("<p>" + m.inline(strings.Join(parts, " ")) + "</p>\n")
}

var (
	codeSpan = regexp.MustCompile("`([^`]+)`")
	picture  = regexp.MustCompile(`!\[([^\]]*)\]\(([A-Za-z0-9._-]+)\)`)
	strong   = regexp.MustCompile(`\*\*([^*]+)\*\*`)
	emphasis = regexp.MustCompile(`\*([^*\s][^*]*)\*`)
)

// inline escapes a text and then puts its marks in, code first: nothing inside
// it is a mark.
func (m *marked) inline(text string) string {
	var codes []string
	text = codeSpan.ReplaceAllStringFunc(html.EscapeString(text), func(c string) string {
		codes = append(codes, "<code>"+c[1:len(c)-1]+"</code>")
		return fmt.Sprintf("\x01%d\x01", len(codes)-1)
	})
	text = picture.ReplaceAllString(text, `<img src="`+m.base+`$2" alt="$1" loading="lazy">`)
	text = strong.ReplaceAllString(text, "<b>$1</b>")
	text = emphasis.ReplaceAllString(text, "<i>$1</i>")
	for i, c := range codes {
		text = strings.Replace(text, fmt.Sprintf("\x01%d\x01", i), c, 1)
	}
	return text
}
