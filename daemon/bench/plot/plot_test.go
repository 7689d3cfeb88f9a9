package plot_test

import (
	"encoding/xml"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/daemon/bench/plot"
)

func wellFormed(t require.TestingT, svg string) {
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		_, err := d.Token()
		if err == io.EOF {
			return
		}
		require.NoError(t, err)
	}
}

func TestChart(t *testing.T) {
	c := plot.Chart{
		Name: "flow & pressure", XLabel: "MPa", YLabel: "L/min",
		Points: []plot.Point{{X: 1, Y: 8, UY: 0.1}, {X: 9, Y: 7.6, UX: 0.1, Hollow: true}},
		Lines:  []plot.Line{{X: []float64{1, 9}, Y: []float64{8, 7.6}}, {X: []float64{0, 9}, Y: []float64{7.2, 7.2}, Dashed: true, Label: "limit <"}},
	}
	svg := c.SVG()
	wellFormed(t, svg)
	require.Equal(t, 2, strings.Count(svg, "<circle"))
	require.Contains(t, svg, "stroke-dasharray")
	require.Contains(t, svg, "limit &lt;")
	require.Contains(t, svg, "flow &amp; pressure")
}

func TestNothingToDraw(t *testing.T) {
	c := plot.Chart{Points: []plot.Point{{X: 1, Y: 1}}}
	require.Empty(t, c.SVG())
	c.Points = append(c.Points, plot.Point{X: math.NaN(), Y: math.Inf(1)})
	require.Empty(t, c.SVG())
}

// TestAlwaysInside: whatever the numbers, the picture is well-formed and its
// points lie inside.
func TestAlwaysInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var c plot.Chart
		for range rapid.IntRange(2, 12).Draw(t, "n") {
			c.Points = append(c.Points, plot.Point{X: rapid.Float64Range(-1e9, 1e9).Draw(t, "x"), Y: rapid.Float64Range(-1e-6, 1e7).Draw(t, "y"), UY: 1})
		}
		wellFormed(t, c.SVG())
		require.NotContains(t, c.SVG(), "NaN")
	})
}
