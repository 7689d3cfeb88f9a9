package chart

import (
	"strings"
	"unicode/utf8"
)

// headHeight is the height over a panel's plot.
func (s *Sheet) headHeight(p *Panel) float64 { return panelHead + headRow*float64(len(s.headRows(p))) }

func (s *Sheet) height(p *Panel) float64 { return s.headHeight(p) + p.plotHeight() + panelFoot }

// headRows are the lines below a panel's name on a sheet that has no margin for
// them: the limits and the note, as many on a line as there is room for.
func (s *Sheet) headRows(p *Panel) (rows []string) {
	if !s.compact() {
		return nil
	}
	parts := p.limitWords()
	if p.Note != "" {
		parts = append(parts, strings.Split(p.Note, "; ")...)
	}
	for _, part := range parts {
		n := len(rows) - 1
		if n >= 0 && float64(utf8.RuneCountInString(rows[n]+" · "+part))*letterWidth <= s.width() {
			rows[n] += " · " + part
			continue
		}
		rows = append(rows, part)
	}
	return rows
}

// limitWords are the limits in the picture by their names, such as
// "limit 20, 690".
func (p *Panel) limitWords() (parts []string) {
	if p.Switch {
		return nil
	}
	sc := p.scale()
	var names []string
	values := map[string][]string{}
	for _, l := range p.Limits {
		if sc.holds(l.Y) {
			if values[l.Label] == nil {
				names = append(names, l.Label)
			}
			values[l.Label] = append(values[l.Label], p.limit(l.Y))
		}
	}
	for _, name := range names {
		parts = append(parts, name+" "+strings.Join(values[name], ", "))
	}
	return parts
}

// limit writes a limit's value.
func (p *Panel) limit(y float64) string {
	return (&drawing{p: &Plot{Decimals: p.Decimals}}).limit(y)
}
