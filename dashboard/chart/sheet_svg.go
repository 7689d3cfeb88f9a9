package chart

import (
	"cmp"
	"fmt"
	"html"
	"math"
	"slices"
	"strconv"
	"strings"
)

// sheetDrawing writes a sheet.
type sheetDrawing struct {
	strings.Builder
	*Sheet
}

// SVG returns the picture: as wide as its place, with its letters in
// proportion. A sheet whose times or spans make no sense gives an empty string.
func (s *Sheet) SVG() string {
	if !s.valid() {
		return ""
	}
	d := &sheetDrawing{Sheet: s}
	d.begin()
	y := s.top()
	for i := range s.Panels {
		d.panel(&s.Panels[i], y)
		y += s.height(&s.Panels[i])
	}
	d.axis(y)
	d.marks(y)
	d.WriteString("</svg>\n")
	return d.String()
}

func (d *sheetDrawing) begin() {
	fmt.Fprintf(d, `<svg class="%s" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %s %s" role="img" aria-labelledby="%s-t %s-d" font-family="sans-serif" font-size="12">`+"\n",
		html.EscapeString(strings.TrimSpace("sheet "+d.Class)), num(d.width()), num(d.Height()), d.id(), d.id())
	fmt.Fprintf(d, `<title id="%s-t">%s</title><desc id="%s-d">%s</desc>`+"\n", d.id(), html.EscapeString(d.Name), d.id(), html.EscapeString(d.Describe))
}

func (d *sheetDrawing) id() string { return html.EscapeString(d.ID) }

// panel draws one quantity with its upper edge at top.
func (d *sheetDrawing) panel(p *Panel, top float64) {
	name := p.Name
	if p.Unit != "" {
		name += ", " + p.Unit
	}
	head := d.headHeight(p)
	v := view{scale: p.scale(), top: top + head, height: p.plotHeight()}
	d.holes(p, &v)
	d.zones(p, &v)
	d.grid(p, &v)
	d.limits(p, &v)
	// After the limits: nothing may lie over a reading.
	d.data(p, &v)
	if d.compact() {
		for i, row := range d.headRows(p) {
			d.plain(2, top+panelHead+headRow*float64(i+1)-7, ` font-size="11"`, row)
		}
		d.plain(2, top+panelHead-7, ` font-weight="600"`, name)
		return
	}
	d.text(d.left(), top+panelHead-7, "start", ink, ` font-weight="600"`, name)
	if p.Note != "" {
		d.text(d.right(), top+panelHead-7, "end", quiet, ` font-size="11"`, p.Note)
	}
}

// view places values in a panel.
type view struct {
	scale
	top, height float64
}

func (v *view) at(y float64) float64 {
	return v.top + v.height*math.Min(math.Max(v.y(y), 0), 100)/100
}

// hole is the kind for hatching.
func (b *Band) hole() BandKind {
	if b.Kind == Known && !b.drawn() {
		return Unknown
	}
	return b.Kind
}

// zones shades what lies beyond the outer limits.
func (d *sheetDrawing) zones(p *Panel, v *view) {
	for _, l := range p.Limits {
		if !l.Outer || !v.holds(l.Y) {
			continue
		}
		y, h := v.at(l.Y), v.top+v.height-v.at(l.Y)
		if l.HighIsBad {
			y, h = v.top, v.at(l.Y)-v.top
		}
		fmt.Fprintf(d, `<rect x="%s" y="%s" width="%s" height="%s" fill="%s" fill-opacity="0.15"/>`+"\n",
			num(d.left()), num(y), num(d.right()-d.left()), num(h), shade)
	}
}

func (d *sheetDrawing) grid(p *Panel, v *view) {
	if p.Switch {
		d.text(d.left()-6, v.top+8, "end", quiet, ` font-size="10"`, "on")
		d.text(d.left()-6, v.top+v.height, "end", quiet, ` font-size="10"`, "off")
	} else {
		for _, y := range v.ticks() {
			d.line(d.left(), v.at(y), d.right(), v.at(y), faint, 0.8, "")
			d.text(d.left()-6, v.at(y)+4, "end", quiet, ` font-size="11"`, tickText(y, v.step))
		}
	}
	for _, t := range d.Ticks {
		if t.T >= d.From && t.T <= d.To {
			d.line(d.x(t.T), v.top, d.x(t.T), v.top+v.height, faint, 0.8, "")
		}
	}
	fmt.Fprintf(d, `<rect class="plot" data-name="%s" x="%s" y="%s" width="%s" height="%s" fill="none" stroke="%s" stroke-width="0.8"/>`+"\n",
		html.EscapeString(p.Name), num(d.left()), num(v.top), num(d.right()-d.left()), num(v.height), quiet)
}

// data draws each unbroken run as a band from the least to the most, with
// square shoulders, so that no reading is moved in time.
func (d *sheetDrawing) data(p *Panel, v *view) {
	for _, seg := range p.segments() {
		var up, down []shoulder
		for _, b := range seg.buckets {
			from, to := d.x(p.Bands[b.n].From), d.x(p.Bands[b.n].To)
			up, down = along(up, from, to, v.at(b.max)), along(down, from, to, v.at(b.min))
		}
		var path strings.Builder
		for _, s := range up {
			fmt.Fprintf(&path, "%s %s %s %s ", num(s.from), s.y, num(s.to), s.y)
		}
		path.WriteByte('L')
		for _, s := range slices.Backward(down) {
			fmt.Fprintf(&path, "%s %s %s %s ", num(s.to), s.y, num(s.from), s.y)
		}
		fmt.Fprintf(d, `<path d="M%sZ" fill="%s" stroke="%s" stroke-width="1.1" stroke-linejoin="round"/>`+"\n",
			strings.TrimSuffix(path.String(), " "), ink, ink)
	}
}

// shoulder is a level stretch of a band's edge, its height as it is written.
type shoulder struct {
	from, to float64
	y        string
}

// along adds a stretch; one at the height of the last makes that one longer.
func along(edge []shoulder, from, to, y float64) []shoulder {
	s := shoulder{from, to, num(y)}
	if n := len(edge); n > 0 && edge[n-1].y == s.y {
		edge[n-1].to = to
		return edge
	}
	return append(edge, s)
}

// limits draws the lines, each with its name and value beside it in the margin,
// where no reading can be; on a compact sheet these stand over the panel.
func (d *sheetDrawing) limits(p *Panel, v *view) {
	var shown []Limit
	for _, l := range p.Limits {
		if !v.holds(l.Y) {
			continue
		}
		width, dash := 1.8, ""
		if !l.Outer {
			width, dash = 1, "5 3"
		}
		d.line(d.left(), v.at(l.Y), d.right(), v.at(l.Y), quiet, width, dash)
		shown = append(shown, l)
	}
	if d.compact() {
		return
	}
	slices.SortFunc(shown, func(a, b Limit) int { return cmp.Compare(b.Y, a.Y) })
	feet := spread(shown, v)
	for i, l := range shown {
		d.line(d.right(), v.at(l.Y), d.right()+5, feet[i]-4, quiet, 0.8, "")
		d.text(d.right()+7, feet[i], "start", ink, ` font-size="11"`, l.Label+" "+p.limit(l.Y))
	}
}

// labelHeight is the least distance of two names in the margin.
const labelHeight = 11.5

// spread gives limits from high to low their names' places, each at its line or
// as near as the neighbours leave room.
func spread(limits []Limit, v *view) []float64 {
	feet := make([]float64, len(limits))
	for i, l := range limits {
		feet[i] = v.at(l.Y) + 4
		if i > 0 {
			feet[i] = math.Max(feet[i], feet[i-1]+labelHeight)
		}
	}
	bottom := v.top + v.height + 4
	for i := range slices.Backward(feet) {
		feet[i] = math.Min(feet[i], bottom)
		bottom = feet[i] - labelHeight
	}
	return feet
}

// tickRoom is the least distance of two times on the axis.
const tickRoom = 44.0

func (d *sheetDrawing) axis(top float64) {
	last := math.Inf(-1)
	for _, t := range d.Ticks {
		if t.T < d.From || t.T > d.To || d.x(t.T)-last < tickRoom {
			continue
		}
		x, anchor := d.x(t.T), "middle"
		last = x
		if x > d.width()-20 {
			anchor, x = "end", d.width()-2
		}
		d.text(x, top+10, anchor, quiet, ` font-size="11"`, t.Label)
	}
}

// marks draws the events through all panels, with their numbers over them.
func (d *sheetDrawing) marks(bottom float64) {
	for _, m := range d.placed() {
		dash, top := "", d.top()
		if m.Act {
			dash = "2 3"
		}
		if m.row >= 0 {
			top = markRow * float64(m.row+1)
		}
		d.line(m.x, top, m.x, bottom-panelFoot, ink, 0.9, dash)
		if m.row >= 0 {
			d.head(m.SheetMark, m.x, 2+markRow*float64(m.row))
		}
	}
}

// head draws a mark's number: in a disc for an alarm, filled where it asked to
// act at once, in a square for what people did.
func (d *sheetDrawing) head(m *SheetMark, x, top float64) {
	fill, letters := "#fff", ink
	if m.Strong {
		fill, letters = ink, "#fff"
	}
	shape := fmt.Sprintf(`<circle cx="%s" cy="%s" r="7.6"`, num(x), num(top+7.6))
	if m.Act {
		shape = fmt.Sprintf(`<rect x="%s" y="%s" width="15" height="15"`, num(x-7.5), num(top))
	}
	fmt.Fprintf(d, `<g>%s fill="%s" stroke="%s"/><title>%s</title>`, shape, fill, ink, html.EscapeString(m.Label))
	fmt.Fprintf(d, `<text x="%s" y="%s" text-anchor="middle" font-size="%s" fill="%s">%d</text></g>`+"\n",
		num(x), num(top+11.4), num(numberSize(m.Number)), letters, m.Number)
}

// numberSize lets three digits fit.
func numberSize(n int) float64 {
	if n > 99 {
		return 8
	}
	return 10.5
}

func (d *sheetDrawing) line(x1, y1, x2, y2 float64, colour string, width float64, dash string) {
	if dash != "" {
		dash = ` stroke-dasharray="` + dash + `"`
	}
	fmt.Fprintf(d, `<path d="M%s %sL%s %s" stroke="%s" stroke-width="%s"%s/>`+"\n", num(x1), num(y1), num(x2), num(y2), colour, num(width), dash)
}

func (d *sheetDrawing) text(x, y float64, anchor, colour, more, s string) {
	fmt.Fprintf(d, `<text x="%s" y="%s" text-anchor="%s" fill="%s"%s stroke="#fff" stroke-width="7" stroke-linejoin="round" paint-order="stroke">%s</text>`+"\n",
		num(x), num(y), anchor, colour, more, html.EscapeString(s))
}

// plain writes without white around the letters, as in rows that stand close.
func (d *sheetDrawing) plain(x, y float64, more, s string) {
	fmt.Fprintf(d, `<text x="%s" y="%s" fill="%s"%s>%s</text>`+"\n", num(x), num(y), ink, more, html.EscapeString(s))
}

// tickText writes a number on an axis, with the digits that its step needs.
func tickText(v, step float64) string {
	dec := 0
	for dec < 4 && step < 0.999*math.Pow(10, -float64(dec)) {
		dec++
	}
	return unsigned0(strconv.FormatFloat(v, 'f', dec, 64))
}
