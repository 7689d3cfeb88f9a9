package convert_test

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
	"headroom/rules/frame"
	"headroom/sensors/convert"
)

// rows reads a reference table as numbers, without its heading.
func rows(t *testing.T, name string) [][]float64 {
	f, err := os.Open(testneed.Shared(t, "reference", name))
	require.NoError(t, err)
	defer f.Close()
	text, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(text), 5)
	var out [][]float64
	for _, line := range text[1:] {
		var row []float64
		for _, cell := range line {
			x, err := strconv.ParseFloat(cell, 64)
			require.NoError(t, err)
			row = append(row, x)
		}
		out = append(out, row)
	}
	return out
}

// pt100 are resistances at degrees Celsius.
var pt100 = []struct {
	c, ohm float64
	source string
}{
	{-100, 60.2558, "IEC 60751 table, as quoted by public test code"},
	{-50, 80.3063, "IEC 60751 table, as quoted by public test code (80.31)"},
	{-20, 92.1599, "IEC 60751 table, as quoted by public test code"},
	{0, 100, "IEC 60751, definition"},
	{25, 109.7347, "arithmetic from IEC 60751's equation"},
	{50, 119.3971, "arithmetic from IEC 60751's equation"},
	{100, 138.5055, "IEC 60751 table, as quoted by public test code"},
	{200, 175.8560, "IEC 60751 table, as quoted by public test code"},
	{850, 390.481, "IEC 60751 table's last row, from memory"},
	{-200, 18.520, "IEC 60751 table's first row, from memory"},
}

func TestPlatinumAgainstTheStandard(t *testing.T) {
	for _, c := range pt100 {
		ohm, ok := convert.PlatinumOhm(100, c.c+273.15)
		require.True(t, ok, c.source)
		require.InDelta(t, c.ohm, ohm, 6e-4, "%v C: %s", c.c, c.source)
	}
	for _, c := range pt100[:8] { // the last two are rounded and lie on the edge
		k, ok := convert.PlatinumTempK(100, c.ohm)
		require.True(t, ok)
		require.InDelta(t, c.c+273.15, k, 2e-4, "%v ohm: %s", c.ohm, c.source)
		k, ok = convert.PlatinumTempK(1000, 10*c.ohm)
		require.True(t, ok)
		require.InDelta(t, c.c+273.15, k, 2e-4, "Pt1000 %v ohm: %s", c.ohm, c.source)
	}
}

// Source: pt100_60751.csv, the standard's equation worked elsewhere.
func TestPlatinumAgainstTheTable(t *testing.T) {
	for _, r := range rows(t, "pt100_60751.csv") {
		for i, r0 := range []float64{100, 1000} {
			rtd := convert.RTD{R0Ohm: r0, Circuit: convert.Circuit{Feed: convert.CurrentSource, CurrentA: 1e-3, LeadOhm: 0.4}}
			require.NoError(t, rtd.Validate())
			got := rtd.Convert(convert.Signal{VoltV: 1e-3 * (r[i+1] + 0.4)})
			// The table's last digit is worth 0.00013 K.
			require.InDelta(t, r[0]+273.15, got.Value, 2e-4, "%v %v", r0, r)
			require.Equal(t, frame.Good, got.Status)
		}
	}
}

// Source: ntc_10k.csv, both laws worked elsewhere; the Steinhart-Hart
// coefficients are a widely reproduced set, from memory.
func TestThermistorAgainstTheTable(t *testing.T) {
	laws := []convert.SteinhartHart{
		convert.Beta(10e3, 298.15, 3950),
		{A: 1.129148e-3, B: 2.34125e-4, C: 8.76741e-8},
	}
	for _, r := range rows(t, "ntc_10k.csv") {
		for i, law := range laws {
			ohm := r[i+1]
			k, ok := law.TempK(ohm)
			require.True(t, ok)
			require.InDelta(t, r[0]+273.15, k, 2e-3, "law %d, %v", i, r)
			up := convert.NTC{Law: law, MinK: 250, MaxK: 400, Circuit: convert.Circuit{Feed: convert.PullUp, ReferenceOhm: 10e3, SupplyV: 3.3, LeadOhm: 2}}
			down := convert.NTC{Law: law, MinK: 250, MaxK: 400, Circuit: convert.Circuit{Feed: convert.PullDown, ReferenceOhm: 4.7e3, LeadOhm: 2}}
			require.NoError(t, up.Validate())
			require.NoError(t, down.Validate())
			require.False(t, up.NeedsReference())
			require.True(t, down.NeedsReference())
			a := up.Convert(convert.Signal{VoltV: 3.3 * (ohm + 2) / (ohm + 2 + 10e3)})
			require.InDelta(t, r[0]+273.15, a.Value, 2e-3, "%v", r)
			b := down.Convert(convert.Signal{VoltV: 4.9 * 4.7e3 / (ohm + 2 + 4.7e3), RefV: 4.9, RefOK: true})
			require.InDelta(t, r[0]+273.15, b.Value, 2e-3, "%v", r)
		}
	}
}

// Source: textbook values of the crest factor and form of waves, from memory:
// a sine of peak 1 has RMS 0.7071, a triangle 0.5774, a square 1.
func TestPulsationOfKnownWaves(t *testing.T) {
	const n = 960
	waves := map[string]struct {
		at  func(phase float64) float64
		rms float64
	}{
		"sine":     {sine, 0.70710678},
		"triangle": {func(p float64) float64 { return 1 - 4*abs(p-0.5) }, 0.57735027},
		"square":   {func(p float64) float64 { return map[bool]float64{true: 1, false: -1}[p < 0.5] }, 1},
	}
	for name, w := range waves {
		x := make([]float64, n)
		for i := range x {
			phase := float64(i%96) / 96
			x[i] = 250e3 + 20*float64(i)/n + 5e3*w.at(phase) // a slow rise of 20 Pa counts as no pulsation
		}
		p, ok := convert.Pulsation(x)
		require.True(t, ok)
		require.InEpsilon(t, 5e3*w.rms, p.RMS, 0.005, name)
		require.InDelta(t, 250e3+10, p.Mean, 400, name)
		require.InEpsilon(t, 5e3, p.Peak, 0.15, name) // 1.5/k for 10 cycles
	}
	_, ok := convert.Pulsation(make([]float64, 15))
	require.False(t, ok)
}
