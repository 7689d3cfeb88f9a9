package chart

import (
	"fmt"
	"html"
	"math"
	"strings"
)

const (
	// hatchStep is the distance of the lines of a hatch.
	hatchStep = 6.0
	// leastHatch is how wide a hole must be for its hatch to be seen; a
	// narrower one is grey.
	leastHatch = 4.0
	hatchInk   = "#8c8c8c"
	narrowHole = "#c6c6c6"
)

// holes hatches what is not known: one hatch for no frames, a crossed one for
// frames without a usable reading. The lines are drawn one by one: a browser
// that prints makes an image of every place that is filled with a pattern,
// which takes it minutes and megabytes.
func (d *sheetDrawing) holes(p *Panel, v *view) {
	for i := 0; i < len(p.Bands); {
		k := i + 1
		for k < len(p.Bands) && p.Bands[k].hole() == p.Bands[i].hole() {
			k++
		}
		if kind := p.Bands[i].hole(); kind != Known {
			x, to := d.x(p.Bands[i].From), d.x(p.Bands[k-1].To)
			d.hole(p.Name, kind, x, math.Max(to-x, 0.6), v)
		}
		i = k
	}
}

// hole draws one, and says what it is to those who point at it or hear it.
func (d *sheetDrawing) hole(name string, kind BandKind, x, w float64, v *view) {
	words := "no frames"
	if kind == Unknown {
		words = "no usable reading"
	}
	fill, opacity := narrowHole, ""
	if w >= leastHatch {
		fill, opacity = "#fff", ` fill-opacity="0"`
	}
	fmt.Fprintf(d, `<g class="hole"><title>%s: %s</title><rect x="%s" y="%s" width="%s" height="%s" fill="%s"%s/>`,
		html.EscapeString(name), words, num(x), num(v.top), num(w), num(v.height), fill, opacity)
	if w >= leastHatch {
		var lines strings.Builder
		hatch(&lines, x, v.top, w, v.height, false)
		if kind == Unknown {
			hatch(&lines, x, v.top, w, v.height, true)
		}
		fmt.Fprintf(d, `<path d="%s" stroke="%s" stroke-width=".8"/>`, lines.String(), hatchInk)
	}
	d.WriteString("</g>\n")
}

// hatch writes lines at 45 degrees that end at the edges of a rectangle: rising
// to the right, or falling. They lie on the same raster in every rectangle.
func hatch(path *strings.Builder, x, y, w, h float64, falls bool) {
	for c := math.Ceil((x+y)/hatchStep) * hatchStep; c < x+y+w+h; c += hatchStep {
		x1, x2 := math.Max(x, c-y-h), math.Min(x+w, c-y)
		y1, y2 := c-x1, c-x2
		if falls {
			y1, y2 = y+y+h-y1, y+y+h-y2
		}
		if x2 > x1 {
			fmt.Fprintf(path, "M%s %sL%s %s", num(x1), num(y1), num(x2), num(y2))
		}
	}
}
