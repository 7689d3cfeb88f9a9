package chart

import (
	"encoding/xml"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the golden files anew")

// wave is an invented inlet pressure with one dip and one lost minute.
func wave(gap bool) []Point {
	var out []Point
	for i := range 600 {
		t := float64(i)
		y := 240 + 8*math.Sin(t/9)
		if t > 420 && t < 450 {
			y -= 150
		}
		ok := !gap || t < 200 || t > 290
		out = append(out, Point{T: t, Y: y, OK: ok})
	}
	return out
}

func plot(points []Point) *Plot {
	return &Plot{
		Name: "Inlet pressure, kPa", From: 0, To: 600, Points: points, MaxStepS: 2, MinSpan: 20,
		Limits: []Limit{{Y: 50, Label: "limit", Outer: true}, {Y: 100, Label: "warning"}, {Y: 860, Label: "limit", HighIsBad: true, Outer: true}},
		Marks:  []Mark{{T: 424, Label: "Inlet pressure low <raised>"}},
	}
}

func TestGolden(t *testing.T) {
	cases := map[string]*Plot{
		"full":     plot(wave(false)),
		"gap":      plot(wave(true)),
		"empty":    plot(nil),
		"late":     plot(wave(false)[480:]),
		"no_limit": {Name: "Flow", From: 0, To: 300, Points: wave(false), MaxStepS: 2, MinSpan: 1, Decimals: 1},
	}
	for name, p := range cases {
		t.Run(name, func(t *testing.T) {
			got := p.SVG()
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

func TestNoSpikeIsLost(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(1, 5000).Draw(rt, "n")
		at := rapid.IntRange(0, n-1).Draw(rt, "at")
		var pts []Point
		for i := range n {
			pts = append(pts, Point{T: float64(i) * 600 / float64(n), Y: 1, OK: true})
		}
		pts[at].Y = 99
		p := Plot{From: 0, To: 600, Points: pts, MaxStepS: 1e9, MinSpan: 1}
		_, hi, any := dataRange(p.segments())
		require.True(rt, any)
		require.Equal(rt, 99.0, hi)
	})
}

func TestBreaks(t *testing.T) {
	pts := []Point{{0, 1, true}, {1, 1, true}, {2, 0, false}, {3, 1, true}, {9, 1, true}, {10, math.NaN(), true}, {11, 1, true}}
	p := Plot{From: 0, To: 12, Points: pts, MaxStepS: 2, MinSpan: 1}
	segs := p.segments()
	require.Len(t, segs, 4, "a bad reading, a long pause and a value that is no number each break the line")
	require.Equal(t, []span{{1, 3}, {3, 9}, {9, 11}}, p.gapsOf(segs))
}

func TestNothingOfABadReadingIsDrawn(t *testing.T) {
	p := plot([]Point{{T: 10, Y: 777, OK: false}, {T: 11, Y: math.Inf(1), OK: true}})
	_, _, any := dataRange(p.segments())
	require.False(t, any)
	require.NotContains(t, p.SVG(), "Inf")
}

func TestFarLimitIsTold(t *testing.T) {
	p := plot(wave(false))
	off := p.OffScale()
	require.Len(t, off, 1)
	require.Equal(t, 860.0, off[0].Y)
	require.False(t, strings.Contains(p.SVG(), ">limit 860<"))
}

func TestSenselessPlotsGiveNothing(t *testing.T) {
	for name, p := range map[string]Plot{
		"no time":  {From: 5, To: 5, MinSpan: 1},
		"no span":  {From: 0, To: 5},
		"nan time": {From: math.NaN(), To: 5, MinSpan: 1},
		"endless":  {From: 0, To: math.Inf(1), MinSpan: 1},
	} {
		require.Empty(t, p.SVG(), name)
	}
}

// FuzzSVG looks for input that gives a picture that is no well-formed XML, or
// that holds a number that is none.
func FuzzSVG(f *testing.F) {
	f.Add("inlet", 0.0, 600.0, 200.0, 50.0, 1.0)
	f.Add("<&\"", -5.0, 1.0, 1e9, -1e9, 1e-6)
	f.Fuzz(func(t *testing.T, name string, from, to, y, limit, span float64) {
		if math.Abs(from) > 1e9 || math.Abs(to) > 1e9 || math.Abs(y) > 1e12 || math.Abs(limit) > 1e12 || span > 1e12 || span < 1e-9 {
			return
		}
		p := Plot{Name: strings.ToValidUTF8(name, ""), From: from, To: to, MinSpan: span, MaxStepS: 1,
			Points: []Point{{from, y, true}, {to, y, true}}, Limits: []Limit{{Y: limit, Label: "limit"}}}
		for _, r := range name {
			if r < 0x20 || r == 0xfffe || r == 0xffff || r == 0xfffd {
				return // XML has no such letters.
			}
		}
		out := p.SVG()
		require.NotContains(t, out, "NaN")
		dec := xml.NewDecoder(strings.NewReader(out))
		for {
			_, err := dec.Token()
			if err == io.EOF {
				break
			}
			require.NoError(t, err)
		}
	})
}

func BenchmarkSVG(b *testing.B) {
	var pts []Point
	for i := range 6000 {
		pts = append(pts, Point{T: float64(i) / 10, Y: 240 + 8*math.Sin(float64(i)/90), OK: true})
	}
	p := plot(pts)
	b.ReportAllocs()
	for b.Loop() {
		p.SVG()
	}
}
