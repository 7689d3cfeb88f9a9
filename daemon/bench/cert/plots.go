package cert

import (
	"html/template"

	"headroom/daemon/bench"
	"headroom/daemon/bench/plot"
	"headroom/rules/units"
)

// plots draws the curves of the test.
func plots(r *bench.Record, s units.System) []template.HTML {
	var out []template.HTML
	for _, c := range r.Curves() {
		x, y := units.For(c.XQuantity, s), units.For(c.YQuantity, s)
		ch := plot.Chart{Name: c.Name, XLabel: c.XLabel + spaced(x.Symbol), YLabel: c.YLabel + spaced(y.Symbol)}
		for _, p := range c.Points {
			ch.Points = append(ch.Points, plot.Point{
				X: x.FromSI(p.X), Y: y.FromSI(p.Y), UX: x.FromSI(p.X+p.UX) - x.FromSI(p.X), UY: y.FromSI(p.Y+p.UY) - y.FromSI(p.Y), Hollow: p.Apart,
			})
		}
		for _, l := range c.Lines {
			line := plot.Line{Dashed: l.Plate, Label: l.Label}
			for i := range l.X {
				line.X, line.Y = append(line.X, x.FromSI(l.X[i])), append(line.Y, y.FromSI(l.Y[i]))
			}
			ch.Lines = append(ch.Lines, line)
		}
		if svg := ch.SVG(); svg != "" {
			out = append(out, template.HTML("<figure>"+svg+"<figcaption>"+template.HTMLEscapeString(c.Name)+"</figcaption></figure>"))
		}
	}
	return out
}

func spaced(symbol string) string {
	if symbol == "" {
		return ""
	}
	return ", " + symbol
}

// Plots draws the curves of a test, for the pages that show it on a screen.
func Plots(r *bench.Record, s units.System) []template.HTML { return plots(r, s) }
