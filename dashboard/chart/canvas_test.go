package chart

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"headroom/dashboard/webtest"
)

// The page's script draws the live charts by the rules of this package. Here
// both draw the same, in a real browser.

// wire is a plot as the live page gets it.
func wire(p *Plot) string {
	type limit struct {
		Y     float64 `json:"y"`
		Label string  `json:"label"`
		High  bool    `json:"high_is_bad"`
		Outer bool    `json:"outer"`
	}
	type mark struct {
		T float64 `json:"t_s"`
	}
	type run struct {
		From  float64      `json:"from_s"`
		To    float64      `json:"to_s"`
		Bands [][3]float64 `json:"bands"`
	}
	limits, marks, runs := []limit{}, []mark{}, []run{}
	for _, l := range p.Limits {
		limits = append(limits, limit{l.Y, l.Label, l.HighIsBad, l.Outer})
	}
	for _, m := range p.Marks {
		marks = append(marks, mark{m.T})
	}
	for _, r := range p.Runs() {
		bands := [][3]float64{}
		for _, b := range r.Reaches {
			bands = append(bands, [3]float64{b.T, b.Min, b.Max})
		}
		runs = append(runs, run{r.From, r.To, bands})
	}
	out, err := json.Marshal(map[string]any{
		"name": p.Name, "unit": "kPa", "decimals": p.Decimals, "least_span": p.MinSpan, "longest_step_s": p.MaxStepS,
		"limits": limits, "marks": marks, "runs": runs,
	})
	if err != nil {
		panic(err)
	}
	return string(out)
}

// blank serves a page without anything on it, and the script beside it.
func blank(t *testing.T) (*webtest.Browser, string) {
	b := webtest.New(t)
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/strip.js" {
			w.Header().Set("Content-Type", "text/javascript")
			src, err := os.ReadFile("../static/strip.js")
			if err != nil {
				http.Error(w, err.Error(), http.StatusInternalServerError)
			}
			_, _ = w.Write(src)
			return
		}
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		fmt.Fprint(w, `<!doctype html><meta charset="utf-8"><body style="margin:0;width:400px;font-family:sans-serif">`)
	}))
	t.Cleanup(srv.Close)
	b.Do(t, chromedp.EmulateViewport(400, 400), chromedp.Navigate(srv.URL))
	return b, srv.URL
}

// randomPlot is a plot of invented readings with limits near and far.
func randomPlot(r *rand.Rand) *Plot {
	size := math.Pow(10, float64(r.IntN(6)-2))
	p := &Plot{Name: "x", From: 0, To: 300, MaxStepS: 2, MinSpan: size * r.Float64(), Decimals: r.IntN(2)}
	y := size * (r.Float64() - 0.3) * 10
	for t := float64(r.IntN(100)); t < 300; t += 0.5 {
		y += size * (r.Float64() - 0.5)
		p.Points = append(p.Points, Point{T: t, Y: y, OK: r.IntN(200) > 0})
	}
	for range r.IntN(4) {
		p.Limits = append(p.Limits, Limit{Y: size * (r.Float64() - 0.3) * 40, Label: "limit", Outer: r.IntN(2) > 0, HighIsBad: r.IntN(2) > 0})
	}
	if r.IntN(10) == 0 {
		p.Points = nil
	}
	return p
}

func TestScriptChoosesTheSameScale(t *testing.T) {
	b, url := blank(t)
	r := rand.New(rand.NewPCG(3, 5))
	var plots []*Plot
	text := "["
	for i := range 300 {
		if i > 0 {
			text += ","
		}
		plots = append(plots, randomPlot(r))
		text += wire(plots[i])
	}
	got := webtest.Ask[[][]float64](t, b, `import("`+url+`/strip.js").then((m) => `+text+`].map((c) => { const s = m.scaleOf(c); return [s.lo, s.hi, s.step, ...m.ticksOf(s)]; }))`)
	require.Len(t, got, len(plots))
	for i, p := range plots {
		s := p.scale(p.segments())
		want := append([]float64{s.lo, s.hi, s.step}, s.ticks()...)
		require.InDeltaSlice(t, want, got[i], 1e-9*(math.Abs(s.hi)+math.Abs(s.lo)+s.step), "%d", i)
	}
}

// Both pictures have their ink in the same places: nothing dark in one is more
// than two pixels from something dark in the other. Letters and edges are
// smoothed each in its way, so a few points may differ.
func TestScriptDrawsTheSamePicture(t *testing.T) {
	b, url := blank(t)
	r := rand.New(rand.NewPCG(7, 11))
	plots := []*Plot{plot(wave(false)), plot(wave(true)), plot(nil), plot(wave(false)[480:])}
	for range 12 {
		plots = append(plots, randomPlot(r))
	}
	for i, p := range plots {
		svg, canvas := drawBoth(t, b, url, p)
		require.Greater(t, svg.count(), 500, "%d: there must be something to compare", i)
		require.Less(t, svg.without(canvas), 0.01, "%d: in the server's picture only", i)
		require.Less(t, canvas.without(svg), 0.01, "%d: in the script's picture only", i)
	}
	require.Empty(t, b.Problems())
}

// A sensor that goes bad leaves the chart as its readings do, and so do the
// alarms that came up meanwhile: hours of it take no room.
func TestScriptForgetsWhileTheSensorIsBad(t *testing.T) {
	b, url := blank(t)
	left := webtest.Ask[[]int](t, b, `import("`+url+`/strip.js").then((m) => {
		const s = new m.Strip(document.createElement("canvas"), {channel: "x", name: "x", unit: "kPa", decimals: 0, least_span: 1, longest_step_s: 2, limits: [], marks: [], runs: []}, 300);
		let t = 0;
		for (; t < 600; t++) s.add(t, [t, t + 1]);
		const full = s.chart.runs[0].bands.length;
		for (; t < 900 + 60; t++) {
			if (t % 10 === 0) s.mark({t_s: t, label: "alarm"});
			s.add(t, null);
		}
		const marks = s.chart.marks.length, runs = s.chart.runs.length;
		s.add(t, [5, 6]);
		return [full, runs, marks, s.chart.runs.length, s.chart.runs[0].from_s];
	})`)
	require.Greater(t, left[0], 200)
	require.Zero(t, left[1], "readings that have left the chart")
	require.LessOrEqual(t, left[2], 25, "marks")
	require.Equal(t, []int{1, 960}, left[3:], "it begins anew with the next good one")
	require.Empty(t, b.Problems())
}

// A limit's name lies exactly on these readings, at the left of the plot: they
// are drawn all the same, without a gap.
func TestNoNameHidesAReading(t *testing.T) {
	b, url := blank(t)
	var points []Point
	for i := range 601 {
		points = append(points, Point{T: float64(i), Y: 50, OK: true})
	}
	p := &Plot{Name: "x", From: 0, To: 600, Points: points, MaxStepS: 2, MinSpan: 20, Limits: []Limit{{Y: 50, Label: "warning"}}}
	svg, canvas := drawBoth(t, b, url, p)
	y := int((&drawing{p: p, sc: p.scale(p.segments())}).py(50))
	for _, picture := range []blot{svg, canvas} {
		for x := int(gutter*400) + 2; x < 398; x++ {
			require.True(t, picture.dark[(y-1)*400+x] || picture.dark[y*400+x], "nothing is drawn at %d, %d", x, y)
		}
	}
}

// drawBoth draws a plot as the server does and as the script does.
func drawBoth(t *testing.T, b *webtest.Browser, url string, p *Plot) (svg, canvas blot) {
	t.Helper()
	webtest.Ask[int](t, b, `import("`+url+`/strip.js").then((m) => {
		document.body.innerHTML = `+"`"+p.SVG()+"<canvas></canvas>`"+`;
		document.querySelector("svg").style.display = "block";
		const s = new m.Strip(document.querySelector("canvas"), `+wire(p)+`, `+num(p.To-p.From)+`);
		s.draw(`+num(p.To)+`, false, 1);
		return 0; })`)
	shot, err := chromedp.Run(b.Ctx, chromedp.CaptureScreenshot())
	require.NoError(t, err)
	img, err := png.Decode(bytes.NewReader(shot))
	require.NoError(t, err)
	svg, canvas = darkness(img, 0), darkness(img, totalHeight)
	return svg, canvas
}

// blot tells which points of a picture are dark.
type blot struct {
	w, h int
	dark []bool
}

func darkness(img image.Image, top int) blot {
	p := blot{w: 400, h: totalHeight, dark: make([]bool, 400*totalHeight)}
	for y := range p.h {
		for x := range p.w {
			r, _, _, _ := img.At(x, top+y).RGBA()
			p.dark[y*p.w+x] = r < 0x8000
		}
	}
	return p
}

func (p blot) count() (n int) {
	for _, d := range p.dark {
		if d {
			n++
		}
	}
	return n
}

// without is the share of the dark points that have none near them in the
// other picture.
func (p blot) without(other blot) float64 {
	lonely := 0
	for i, d := range p.dark {
		if d && !other.near(i%p.w, i/p.w) {
			lonely++
		}
	}
	return float64(lonely) / float64(max(p.count(), 1))
}

func (p blot) near(x, y int) bool {
	for v := max(y-2, 0); v <= min(y+2, p.h-1); v++ {
		for u := max(x-2, 0); u <= min(x+2, p.w-1); u++ {
			if p.dark[v*p.w+u] {
				return true
			}
		}
	}
	return false
}
