// Package plot draws one quantity against another as an SVG picture for a
// printed page: points with the bars of their uncertainty, lines, and limits.
//
// It owns the axes, the ticks and the drawing; units and words are its
// caller's. It refuses to draw what is no number and draws nothing without two
// different places on the axis. It uses no colour, so that a copy on paper
// tells as much as the screen.
package plot

import (
	"fmt"
	"html"
	"math"
	"strconv"
	"strings"
)

// Point is one measured point.
type Point struct {
	X, Y float64
	// UX and UY are the half-lengths of the bars; 0 for none.
	UX, UY float64
	// Hollow marks a point that didn't count.
	Hollow bool
}

// Line is drawn from its first place to its last.
type Line struct {
	X, Y []float64
	// Dashed lines are limits and plate figures.
	Dashed bool
	Label  string
}

// Chart is one picture.
type Chart struct {
	// Name for those who can't see it; XLabel and YLabel with their units.
	Name, XLabel, YLabel string
	Points               []Point
	Lines                []Line
	// FromZero puts 0 on the vertical axis.
	FromZero bool
}

// The picture in pixels.
const (
	width, height            = 520, 300
	left, right, top, bottom = 66, 14, 14, 46
	ink, quiet, faint        = "#111", "#555", "#ddd"
)

// axis is one direction.
type axis struct{ lo, hi, step float64 }

// SVG returns the picture; empty where there is nothing to draw.
func (c *Chart) SVG() string {
	x, okX := c.axisOf(func(p Point) (v, u float64) { return p.X, p.UX }, func(l Line) []float64 { return l.X }, false)
	y, okY := c.axisOf(func(p Point) (v, u float64) { return p.Y, p.UY }, func(l Line) []float64 { return l.Y }, c.FromZero)
	if !okX || !okY {
		return ""
	}
	d := &drawing{x: x, y: y}
	fmt.Fprintf(d, `<svg class="xy" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" role="img" aria-label="%s" font-family="sans-serif" font-size="12">`+"\n",
		width, height, html.EscapeString(c.Name))
	d.grid(c)
	for _, l := range c.Lines {
		d.draw(l)
	}
	for _, p := range c.Points {
		d.point(p)
	}
	d.WriteString("</svg>\n")
	return d.String()
}

// axisOf finds the range of one direction with a little room at both ends.
func (c *Chart) axisOf(of func(Point) (v, u float64), ofLine func(Line) []float64, zero bool) (axis, bool) {
	lo, hi := math.Inf(1), math.Inf(-1)
	see := func(v float64) {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	for _, p := range c.Points {
		v, u := of(p)
		see(v - u)
		see(v + u)
	}
	for _, l := range c.Lines {
		for _, v := range ofLine(l) {
			see(v)
		}
	}
	if zero {
		see(0)
	}
	if !(hi > lo) {
		return axis{}, false
	}
	room := 0.06 * (hi - lo)
	if !zero || lo < 0 {
		lo -= room
	}
	hi += room
	return axis{lo, hi, step(hi - lo)}, true
}

// step is 1, 2 or 5 times a power of ten, for four to eight ticks.
func step(span float64) float64 {
	raw := span / 6
	pow := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5} {
		if m*pow >= raw {
			return m * pow
		}
	}
	return 10 * pow
}

func (a axis) ticks() []float64 {
	var out []float64
	for k := math.Ceil(a.lo / a.step); k*a.step <= a.hi && len(out) < 20; k++ {
		out = append(out, k*a.step)
	}
	return out
}

// label writes a tick with the digits that the step needs.
func (a axis) label(v float64) string {
	n := max(0, int(math.Ceil(-math.Log10(a.step)-1e-9)))
	s := strconv.FormatFloat(v, 'f', min(n, 9), 64)
	if strings.Trim(s, "-0.") == "" {
		return "0"
	}
	return s
}

type drawing struct {
	strings.Builder
	x, y axis
}

func (d *drawing) px(v float64) float64 {
	return left + (width-left-right)*(v-d.x.lo)/(d.x.hi-d.x.lo)
}

func (d *drawing) py(v float64) float64 {
	return height - bottom - (height-top-bottom)*(v-d.y.lo)/(d.y.hi-d.y.lo)
}

func (d *drawing) grid(c *Chart) {
	for _, v := range d.x.ticks() {
		d.line(d.px(v), top, d.px(v), height-bottom, faint, 1, "")
		d.text(d.px(v), height-bottom+16, "middle", d.x.label(v))
	}
	for _, v := range d.y.ticks() {
		d.line(left, d.py(v), width-right, d.py(v), faint, 1, "")
		d.text(left-6, d.py(v)+4, "end", d.y.label(v))
	}
	d.line(left, height-bottom, width-right, height-bottom, quiet, 1, "")
	d.line(left, top, left, height-bottom, quiet, 1, "")
	d.text((left+width-right)/2, height-8, "middle", c.XLabel)
	fmt.Fprintf(d, `<text transform="translate(14 %d) rotate(-90)" text-anchor="middle" fill="%s">%s</text>`+"\n",
		(top+height-bottom)/2, quiet, html.EscapeString(c.YLabel))
}

func (d *drawing) draw(l Line) {
	var path strings.Builder
	for i := range min(len(l.X), len(l.Y)) {
		verb := "L"
		if i == 0 {
			verb = "M"
		}
		fmt.Fprintf(&path, "%s%s %s", verb, num(d.px(l.X[i])), num(d.py(l.Y[i])))
	}
	dash := ""
	if l.Dashed {
		dash = ` stroke-dasharray="6 4"`
	}
	fmt.Fprintf(d, `<path d="%s" fill="none" stroke="%s" stroke-width="1.5"%s/>`+"\n", path.String(), ink, dash)
	if n := min(len(l.X), len(l.Y)); l.Label != "" && n > 0 {
		d.text(d.px(l.X[n-1])-4, d.py(l.Y[n-1])-5, "end", l.Label)
	}
}

func (d *drawing) point(p Point) {
	x, y := d.px(p.X), d.py(p.Y)
	if p.UY > 0 {
		d.line(x, d.py(p.Y-p.UY), x, d.py(p.Y+p.UY), ink, 1.5, "")
	}
	if p.UX > 0 {
		d.line(d.px(p.X-p.UX), y, d.px(p.X+p.UX), y, ink, 1.5, "")
	}
	fill := ink
	if p.Hollow {
		fill = "#fff"
	}
	fmt.Fprintf(d, `<circle cx="%s" cy="%s" r="3.5" fill="%s" stroke="%s"/>`+"\n", num(x), num(y), fill, ink)
}

func (d *drawing) line(x1, y1, x2, y2 float64, colour string, w float64, dash string) {
	fmt.Fprintf(d, `<path d="M%s %sL%s %s" stroke="%s" stroke-width="%s"%s/>`+"\n", num(x1), num(y1), num(x2), num(y2), colour, num(w), dash)
}

func (d *drawing) text(x, y float64, anchor, s string) {
	fmt.Fprintf(d, `<text x="%s" y="%s" text-anchor="%s" fill="%s">%s</text>`+"\n", num(x), num(y), anchor, quiet, html.EscapeString(s))
}

// num writes a place with at most two decimals.
func num(v float64) string {
	s := strings.TrimRight(strings.TrimRight(strconv.FormatFloat(v, 'f', 2, 64), "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}
