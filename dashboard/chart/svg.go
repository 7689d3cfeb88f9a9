package chart

import (
	"fmt"
	"html"
	"math"
	"strconv"
	"strings"
)

// Greys are given as attributes, so that a chart saved or printed alone still
// looks right. There is no colour: a limit that is far away is nothing abnormal.
const (
	ink   = "#111"
	quiet = "#595959"
	faint = "#d9d9d9"
	shade = "#595959"
)

type drawing struct {
	*strings.Builder
	p  *Plot
	sc scale
}

// x returns a time's place in the plot's own 0 to 1000.
func (d *drawing) x(t float64) float64 { return 1000 * (t - d.p.From) / (d.p.To - d.p.From) }

func (d *drawing) open() {
	fmt.Fprintf(d, `<svg class="chart" xmlns="http://www.w3.org/2000/svg" width="100%%" height="%d" role="img" aria-label="%s" font-family="sans-serif" font-size="14">`+"\n",
		totalHeight, html.EscapeString(d.p.Name))
	d.WriteString(`<defs><pattern id="gap" width="6" height="6" patternUnits="userSpaceOnUse"><path d="M0 6L6 0" stroke="#8c8c8c" stroke-width="1"/></pattern></defs>` + "\n")
}

// plot opens the stretched part, where a point's place is 0 to 1000 by 0 to 100.
func (d *drawing) plot() {
	fmt.Fprintf(d, `<svg x="%s%%" y="%d" width="%s%%" height="%d" viewBox="0 0 1000 100" preserveAspectRatio="none">`+"\n",
		num(100*gutter), plotTop, num(100*(1-gutter)), plotHeight)
}

// zones shades what lies beyond the outer limits.
func (d *drawing) zones() {
	for _, l := range d.p.Limits {
		if !l.Outer || !d.sc.holds(l.Y) {
			continue
		}
		y, h := d.sc.y(l.Y), 100-d.sc.y(l.Y)
		if l.HighIsBad {
			y, h = 0, d.sc.y(l.Y)
		}
		fmt.Fprintf(d, `<rect x="0" y="%s" width="1000" height="%s" fill="%s" fill-opacity="0.15"/>`+"\n", num(y), num(h), shade)
	}
}

func (d *drawing) grid() {
	for _, v := range d.sc.ticks() {
		d.line(0, d.sc.y(v), 1000, d.sc.y(v), faint, 1, "")
	}
	d.line(0, 100, 1000, 100, quiet, 1, "")
}

// gaps hatches the times without a good reading, outside the stretched part so
// that the hatch keeps its slant.
func (d *drawing) gaps(segs []segment) {
	for _, g := range d.p.gapsOf(segs) {
		x, w := d.x(g.from)/10, (d.x(g.to)-d.x(g.from))/10
		fmt.Fprintf(d, `<rect class="gap" x="%s%%" y="%d" width="%s%%" height="%d" fill="url(#gap)"><title>no good reading</title></rect>`+"\n",
			num(100*gutter+(1-gutter)*x), plotTop, num((1-gutter)*w), plotHeight)
	}
}

// bands draws each unbroken run as a filled band from the least to the most.
func (d *drawing) bands(segs []segment) {
	for i := range segs {
		var up, down strings.Builder
		bs := segs[i].buckets
		for k := range bs {
			t := math.Min(math.Max((float64(bs[k].n)+0.5)*d.p.width(), d.p.From), d.p.To)
			x := num(d.x(t))
			up.WriteString(x + " " + num(d.sc.y(bs[k].max)) + " ")
			back := &bs[len(bs)-1-k]
			t = math.Min(math.Max((float64(back.n)+0.5)*d.p.width(), d.p.From), d.p.To)
			down.WriteString(num(d.x(t)) + " " + num(d.sc.y(back.min)) + " ")
		}
		fmt.Fprintf(d, `<path d="M%sL%sZ" fill="%s" stroke="%s" stroke-width="2" stroke-linejoin="round" vector-effect="non-scaling-stroke"/>`+"\n",
			up.String(), down.String(), ink, ink)
	}
}

// limits draws the limits' lines.
func (d *drawing) limits() {
	for _, l := range d.p.Limits {
		if !d.sc.holds(l.Y) {
			continue
		}
		if l.Outer {
			d.line(0, d.sc.y(l.Y), 1000, d.sc.y(l.Y), quiet, 3, "")
		} else {
			d.line(0, d.sc.y(l.Y), 1000, d.sc.y(l.Y), quiet, 1.5, "6 4")
		}
	}
}

// markLines draws the marks over the data.
func (d *drawing) markLines() {
	for _, m := range d.marks() {
		d.line(d.x(m.T), 0, d.x(m.T), 100, ink, 1, "2 3")
	}
}

// marks returns the newest marks inside the window.
func (d *drawing) marks() []Mark {
	var out []Mark
	for _, m := range d.p.Marks {
		if m.T >= d.p.From && m.T <= d.p.To {
			out = append(out, m)
		}
	}
	return out[max(0, len(out)-maxMarks):]
}

func (d *drawing) close() { d.WriteString("</svg>\n") }

func (d *drawing) line(x1, y1, x2, y2 float64, colour string, width float64, dash string) {
	if dash != "" {
		dash = ` stroke-dasharray="` + dash + `"`
	}
	fmt.Fprintf(d, `<path d="M%s %sL%s %s" stroke="%s" stroke-width="%s"%s vector-effect="non-scaling-stroke"/>`+"\n",
		num(x1), num(y1), num(x2), num(y2), colour, num(width), dash)
}

// limitNames writes each limit's name and value on its line.
func (d *drawing) limitNames() {
	taken := make([]labelPlace, 0, 4)
	for _, l := range d.p.Limits {
		if d.sc.holds(l.Y) {
			at := placeLabel(d.py(l.Y), taken)
			taken = append(taken, at)
			d.text(100*gutter+1+float64(at.column)*labelStep, at.y, "start", ink, l.Label+" "+d.limit(l.Y))
		}
	}
}

// letters writes what else must keep its size: numbers, times and the marks'
// heads.
func (d *drawing) letters() {
	for _, v := range d.sc.ticks() {
		d.text(100*gutter-1.5, d.py(v)+5, "end", quiet, d.tick(v))
	}
	for _, m := range d.marks() {
		d.head(m)
	}
	base := float64(totalHeight - 6)
	d.text(100*gutter, base, "start", quiet, ago(d.p.To-d.p.From))
	d.text(100*gutter+50*(1-gutter), base, "middle", quiet, ago((d.p.To-d.p.From)/2))
	d.text(100, base, "end", quiet, "now")
}

// py returns a value's height in pixels of the whole picture.
func (d *drawing) py(v float64) float64 { return plotTop + plotHeight*d.sc.y(v)/100 }

// labelPlace is where a limit's name stands: a column from the left, and the
// foot of its letters.
type labelPlace struct {
	column int
	y      float64
}

// labelStep is the width of such a column in percent.
const labelStep = 34

// placeLabel puts a limit's name on its own line, which it interrupts, so that
// nobody can take it for another's; at the left, where the data is oldest. A
// name that would lie on another one moves to the right.
func placeLabel(lineY float64, taken []labelPlace) labelPlace {
	at := labelPlace{0, math.Min(math.Max(lineY+5, plotTop+6), plotTop+plotHeight-2)}
	for _, o := range taken {
		if o.column == at.column && math.Abs(o.y-at.y) < 15 {
			at.column++
		}
	}
	return at
}

// head draws a mark's head as a small triangle on the upper edge.
func (d *drawing) head(m Mark) {
	x := num(100*gutter + (1-gutter)*d.x(m.T)/10)
	fmt.Fprintf(d, `<svg x="%s%%" y="2" width="16" height="14" overflow="visible"><path d="M-8 0H8L0 13Z" fill="%s"><title>%s</title></path></svg>`+"\n",
		x, ink, html.EscapeString(m.Label))
}

func (d *drawing) text(xPercent, y float64, anchor, colour, s string) {
	fmt.Fprintf(d, `<text x="%s%%" y="%s" text-anchor="%s" fill="%s" stroke="#fff" stroke-width="8" stroke-linejoin="round" paint-order="stroke">%s</text>`+"\n",
		num(xPercent), num(y), anchor, colour, html.EscapeString(s))
}

// tick writes a number on the axis, with the digits that its step needs.
func (d *drawing) tick(v float64) string { return tickText(v, d.sc.step) }

// limit writes a limit's value, without digits that say nothing.
func (d *drawing) limit(v float64) string {
	s := strconv.FormatFloat(v, 'f', d.p.Decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return unsigned0(s)
}

// unsigned0 takes the sign from a zero.
func unsigned0(s string) string {
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}

// ago writes a time before now, for the axis.
func ago(s float64) string {
	if s < 120 {
		return "−" + num(math.Round(s)) + " s"
	}
	return "−" + num(math.Round(s/6)/10) + " min"
}

// num writes a number with at most two decimals and no trailing zero.
func num(v float64) string {
	s := strconv.FormatFloat(v, 'f', 2, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}
