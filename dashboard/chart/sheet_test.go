package chart

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// sheet is an invented run of ten minutes: a dip, a hole and a sensor that
// fails.
func sheet() *Sheet {
	s := &Sheet{
		ID: "c1", Name: "Readings of an invented run", Describe: "Inlet pressure dips at 7:00; <flow> is lost.", From: 0, To: 600,
		Ticks: TimeTicks(0, 600, 0, func(t, _ float64) string { return fmt.Sprintf("+%d:%02d", int(t)/60, int(t)%60) }),
		Marks: []SheetMark{
			{T: 60, Number: 1, Label: "Start"}, {T: 424, Number: 2, Label: "Pump is starving", Strong: true},
			{T: 426, Number: 3, Label: "With it"}, {T: 428, Number: 4, Label: "Kim acknowledged", Act: true},
			{T: 429, Number: 105, Label: "more"}, {T: 900, Number: 6, Label: "outside"},
		},
	}
	inlet := Panel{Name: "Inlet pressure", Unit: "kPa", MinSpan: 20, Limits: []Limit{
		{Y: 50, Label: "limit", Outer: true}, {Y: 100, Label: "warning"}, {Y: 860, Label: "limit", HighIsBad: true, Outer: true},
	}}
	flow := Panel{Name: "Flow", Unit: "L/min", Note: "no limit of its own", MinSpan: 1, Decimals: 1}
	on := Panel{Name: "Running", Switch: true}
	for t := 0.0; t < 600; t += 2 {
		y := 240 + 8*math.Sin(t/9)
		if t > 420 && t < 450 {
			y -= 150
		}
		kind := Known
		if t >= 200 && t < 260 {
			kind = NoFrames
		}
		inlet.Bands = append(inlet.Bands, Band{t, t + 2, y - 2, y + 2, kind})
		if t >= 500 {
			kind = Unknown
		}
		flow.Bands = append(flow.Bands, Band{t, t + 2, y / 32, y / 31, kind})
		on.Bands = append(on.Bands, Band{t, t + 2, math.Min(1, math.Floor(t/60)), math.Min(1, math.Floor(t/60)), Known})
	}
	s.Panels = []Panel{inlet, flow, on}
	return s
}

func TestSheetGolden(t *testing.T) {
	bare := &Sheet{ID: "e", Name: "Nothing", From: 0, To: 1, Panels: []Panel{{Name: "Flow", Unit: "gpm", MinSpan: 1}}}
	narrow := sheet()
	narrow.Width, narrow.Class, narrow.Panels[1].Note = NarrowWidth, "for-phone", "usable for 99.3 % of the time; limit 4.0 L/min is outside"
	for name, s := range map[string]*Sheet{"sheet": sheet(), "sheet_bare": bare, "sheet_narrow": narrow} {
		t.Run(name, func(t *testing.T) {
			got := s.SVG()
			file := filepath.Join("testdata", name+".svg")
			if *update {
				require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
			}
			want, err := os.ReadFile(file)
			require.NoError(t, err, "run the test with -update to make it")
			require.Equal(t, string(want), got)
		})
	}
}

// TestSheetHidesNothing: whichever band holds a spike, the axis holds it and the
// picture has its corner; holes are hatched as what they are.
func TestSheetHidesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 400).Draw(t, "n")
		at := rapid.IntRange(0, n-1).Draw(t, "at")
		p := Panel{Name: "x", MinSpan: 1}
		for i := range n {
			p.Bands = append(p.Bands, Band{float64(i), float64(i + 1), 1, 1, BandKind(rapid.IntRange(0, 2).Draw(t, "kind"))})
		}
		p.Bands[at] = Band{float64(at), float64(at + 1), 1, 99, Known}
		s := &Sheet{ID: "x", From: 0, To: float64(n), Panels: []Panel{p}}
		v := view{scale: s.Panels[0].scale(), top: s.top() + s.headHeight(&s.Panels[0]), height: panelHeight}
		require.True(t, v.holds(99))
		out := s.SVG()
		require.Contains(t, out, num(s.x(float64(at)))+" "+num(v.at(99)))
		holes := 0
		for i := range p.Bands {
			if k := p.Bands[i].hole(); k != Known && (i == 0 || p.Bands[i-1].hole() != k) {
				holes++
			}
		}
		require.Equal(t, holes, strings.Count(out, `class="hole"`))
	})
}

// TestSheetIsSmallInPrint: no place is filled with a pattern, of which a browser
// that prints makes an image each, and a level curve is no longer for being
// long. Hatches end inside their holes.
func TestSheetIsSmallInPrint(t *testing.T) {
	level := func(n int) string {
		p := Panel{Name: "x", MinSpan: 1}
		for i := range n {
			p.Bands = append(p.Bands, Band{float64(i), float64(i + 1), 1, 2, Known})
		}
		return (&Sheet{ID: "x", From: 0, To: float64(n), Panels: []Panel{p}}).SVG()
	}
	require.InDelta(t, len(level(10)), len(level(1000)), 40)
	p := Panel{Name: "x", MinSpan: 1}
	for i := range 600 {
		p.Bands = append(p.Bands, Band{float64(i), float64(i + 1), 1, 1, BandKind(i % 3)})
	}
	out := (&Sheet{ID: "x", From: 0, To: 600, Panels: []Panel{p}}).SVG()
	require.NotContains(t, out, "<pattern")
	require.NotContains(t, out, "url(")
	require.Less(t, len(out), 400*300, "400 holes and 200 pieces of a curve")
	rapid.Check(t, func(t *rapid.T) {
		x, y := rapid.Float64Range(0, 700).Draw(t, "x"), rapid.Float64Range(0, 900).Draw(t, "y")
		w, h := rapid.Float64Range(4, 700).Draw(t, "w"), rapid.Float64Range(10, 100).Draw(t, "h")
		var b strings.Builder
		hatch(&b, x, y, w, h, rapid.Bool().Draw(t, "falls"))
		var x1, y1, x2, y2 float64
		for piece := range strings.SplitSeq(strings.TrimPrefix(b.String(), "M"), "M") {
			_, err := fmt.Sscanf(strings.ReplaceAll(piece, "L", " "), "%g %g %g %g", &x1, &y1, &x2, &y2)
			require.NoError(t, err)
			for _, px := range []float64{x1, x2} {
				require.True(t, px >= x-0.01 && px <= x+w+0.01, "%g", px)
			}
			for _, py := range []float64{y1, y2} {
				require.True(t, py >= y-0.02 && py <= y+h+0.02, "%g", py)
			}
		}
	})
}

// TestNoNameOnASheetHidesAReading: the limits' names stand in the margin, or over
// the panel where there is none.
func TestNoNameOnASheetHidesAReading(t *testing.T) {
	for _, width := range []float64{0, MiddleWidth, NarrowWidth} {
		s := sheet()
		s.Width = width
		out := s.SVG()
		names := regexp.MustCompile(`<text x="([\d.]+)" y="([\d.]+)"[^>]*>(?:limit|warning) `).FindAllStringSubmatch(out, -1)
		require.NotEmpty(t, names)
		plots := regexp.MustCompile(`class="plot"[^>]* x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)"`).FindAllStringSubmatch(out, -1)
		require.Len(t, plots, len(s.Panels))
		f := func(text string) float64 {
			v, err := strconv.ParseFloat(text, 64)
			require.NoError(t, err)
			return v
		}
		last := map[float64]bool{}
		for _, n := range names {
			x, foot := f(n[1]), f(n[2])
			require.False(t, last[foot], "two names on one place")
			last[foot] = true
			for _, p := range plots {
				clear := x >= f(p[1])+f(p[3]) || foot+3 <= f(p[2]) || foot-9 >= f(p[2])+f(p[4])
				require.True(t, clear, "%s lies on a plot at width %g", n[0], width)
			}
		}
	}
}

func TestSheetDetails(t *testing.T) {
	out := sheet().SVG()
	require.NotContains(t, out, "outside", "a mark outside of the times is not drawn")
	require.Contains(t, out, "<title>Kim acknowledged</title>")
	require.Contains(t, out, "&lt;flow&gt;")
	require.Contains(t, out, "no usable reading")
	require.Contains(t, out, "no frames")
	p := sheet().Panels[0]
	require.Len(t, p.OffScale(), 1)
	for name, s := range map[string]*Sheet{
		"no panel": {From: 0, To: 1}, "no time": {From: 1, To: 1, Panels: []Panel{{MinSpan: 1}}},
		"no span": {From: 0, To: 1, Panels: []Panel{{}}}, "nan": {From: math.NaN(), To: 1, Panels: []Panel{{MinSpan: 1}}},
	} {
		require.Empty(t, s.SVG(), name)
	}
}

// TestTimeTicks: round distances, few enough, all inside.
func TestTimeTicks(t *testing.T) {
	for _, x := range []struct{ from, to, zero, step float64 }{
		{0, 0.5, 0, 0.1}, {0, 60, 0, 10}, {-12.7, 130, 0, 30}, {0, 600, 0, 120}, {0, 36000, 0, 7200}, {0, 3e7, 0, 91 * 86400},
	} {
		got := TimeTicks(x.from, x.to, x.zero, func(_, step float64) string {
			require.Equal(t, x.step, step)
			return ""
		})
		require.NotEmpty(t, got)
		require.LessOrEqual(t, len(got), 9)
		for _, k := range got {
			require.True(t, k.T >= x.from && k.T <= x.to)
			require.InDelta(t, 0, math.Remainder(k.T-x.zero, x.step), 1e-6)
		}
	}
	require.Empty(t, TimeTicks(1, 1, 0, nil))
	require.Empty(t, TimeTicks(0, math.Inf(1), 0, nil))
}

// FuzzSheet looks for a picture that is no well-formed XML, or that holds a
// number that is none.
func FuzzSheet(f *testing.F) {
	f.Add(0.0, 600.0, 1.0, 2.0, 50.0, 300.0, uint8(2))
	f.Add(-5.0, 1.0, math.NaN(), math.Inf(1), 1e9, 1e12, uint8(1))
	f.Fuzz(func(t *testing.T, from, to, lo, hi, limit, mark float64, kind uint8) {
		if math.Abs(from) > 1e9 || math.Abs(to) > 1e9 || to-from < 1e-3 || lo < -1e12 || hi > 1e12 || lo > hi || !(math.Abs(limit) < 1e12) {
			return
		}
		s := &Sheet{ID: "f", Name: "n", From: from, To: to, Marks: []SheetMark{{T: mark, Number: 1, Strong: true}},
			Panels: []Panel{{Name: "p", MinSpan: 1, Bands: []Band{{from, to, lo, hi, BandKind(kind % 3)}}, Limits: []Limit{{Y: limit, Outer: true}}}}}
		out := s.SVG()
		require.NotContains(t, out, "NaN")
		require.NotContains(t, out, "Inf")
		dec := xml.NewDecoder(strings.NewReader(out))
		for {
			if _, err := dec.Token(); errors.Is(err, io.EOF) {
				return
			} else {
				require.NoError(t, err)
			}
		}
	})
}
