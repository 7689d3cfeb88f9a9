package convert_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/frame"
	"headroom/sensors/convert"
)

func TestPlatinumInverseIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.Float64Range(convert.PlatinumMinK, convert.PlatinumMaxK).Draw(t, "tempK")
		r0 := rapid.SampledFrom([]float64{100, 500, 1000}).Draw(t, "r0")
		ohm, ok := convert.PlatinumOhm(r0, k)
		require.True(t, ok)
		back, ok := convert.PlatinumTempK(r0, ohm)
		if k > convert.PlatinumMinK+1e-9 && k < convert.PlatinumMaxK-1e-9 { // rounding at the very edge
			require.True(t, ok)
			require.InDelta(t, k, back, 1e-6)
		}
	})
}

func TestThermistorFallsSteadily(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := ntc
		n.Law = convert.Beta(rapid.Float64Range(1e3, 50e3).Draw(t, "r0"), 298.15, rapid.Float64Range(2500, 4800).Draw(t, "beta"))
		if n.Validate() != nil {
			t.Skip("a law that New would refuse")
		}
		a := rapid.Float64Range(60, 4e5).Draw(t, "ohm")
		b := a * rapid.Float64Range(1.001, 2).Draw(t, "more")
		ka, _ := n.Law.TempK(a)
		kb, _ := n.Law.TempK(b)
		require.Greater(t, ka, kb)
	})
}

func TestALoopIsLinear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := convert.Loop{ShuntOhm: rapid.Float64Range(10, 500).Draw(t, "shunt"), Span: convert.Span{
			Low: rapid.Float64Range(-1e5, 0).Draw(t, "low"), High: rapid.Float64Range(1, 4e7).Draw(t, "high")}}
		require.NoError(t, l.Validate())
		share := rapid.Float64Range(0, 1).Draw(t, "share")
		r := l.Convert(convert.Signal{VoltV: (4e-3 + 16e-3*share) * l.ShuntOhm})
		require.Equal(t, frame.Good, r.Status)
		require.InDelta(t, l.Span.Low+share*(l.Span.High-l.Span.Low), r.Value, 1e-9*(l.Span.High-l.Span.Low))
	})
}

// sound is what every result must keep, whatever the signal.
func sound(t require.TestingT, r convert.Result) {
	require.False(t, math.IsNaN(r.Value) || math.IsInf(r.Value, 0))
	require.False(t, math.IsNaN(r.Signal) || math.IsInf(r.Signal, 0))
	require.Equal(t, r.Status == frame.Good, r.Reason == convert.OK)
	require.Equal(t, r.Status == frame.Good, r.Words() == "")
	require.Contains(t, []frame.Status{frame.Good, frame.OutOfBand, frame.Failed}, r.Status)
	if r.Status != frame.Good {
		require.Zero(t, r.Value)
	}
}

var kinds = []convert.Converter{loop, ratio, tenVolt, oneFive, pulled, supply, ntc, ntcDown, rtd}

func FuzzConvert(f *testing.F) {
	for _, c := range faults {
		f.Add(c.volt, c.ref, c.ref != 0)
	}
	f.Add(math.Inf(1), math.NaN(), true)
	f.Add(1e308, -1e308, true)
	f.Add(5e-324, 5.0, true)
	f.Fuzz(func(t *testing.T, volt, ref float64, ok bool) {
		for _, k := range kinds {
			sound(t, k.Convert(convert.Signal{VoltV: volt, RefV: ref, RefOK: ok}))
		}
		if p, ok := convert.Pulsation([]float64{volt, ref, volt, ref, volt, ref, volt, ref, volt, 0, 0, 0, ref, 0, 0, 1}); ok {
			require.False(t, math.IsNaN(p.RMS+p.Mean+p.Peak))
		}
	})
}

// refused are options that can't be, each of which must be told.
var refused = []struct {
	name string
	c    interface{ Validate() error }
	want string
}{
	{"no shunt", convert.Loop{Span: loop.Span}, "shunt of 0 ohm"},
	{"no scale", convert.Loop{ShuntOhm: 100}, "scale 0 to 0"},
	{"scale NaN", convert.Loop{ShuntOhm: 100, Span: convert.Span{High: math.NaN()}}, "scale"},
	{"ratio at rails", convert.Ratiometric{HighRatio: 1, Span: ratio.Span}, "no room"},
	{"ratio supply", convert.Ratiometric{MinSupplyV: 5, MaxSupplyV: 4, Span: ratio.Span}, "supply of 5 to 4 V"},
	{"voltage", convert.Voltage{LowV: 10, HighV: 10, Span: tenVolt.Span}, "output of 10 to 10 V"},
	{"supply", convert.Supply{}, "supply of 0 to 0 V"},
	{"leads", convert.RTD{R0Ohm: 100, Circuit: convert.Circuit{LeadOhm: -1}}, "leads of -1 ohm"},
	{"current", convert.RTD{R0Ohm: 100, Circuit: convert.Circuit{Feed: convert.CurrentSource}}, "current of 0 A"},
	{"feed", convert.RTD{R0Ohm: 100, Circuit: convert.Circuit{Feed: 9}}, "no such feed"},
	{"reference", convert.RTD{R0Ohm: 100}, "reference resistor of 0 ohm"},
	{"feed supply", convert.RTD{R0Ohm: 100, Circuit: convert.Circuit{ReferenceOhm: 100, SupplyV: 0.5}}, "fed from 0.5 V"},
	{"r0", convert.RTD{}, "platinum resistor of 0 ohm"},
	{"rtd range", convert.RTD{R0Ohm: 100, MinK: 10, MaxK: 300}, "range of 10 to 300 K"},
	{"ntc range", convert.NTC{Law: ntc.Law, Circuit: ntc.Circuit, MinK: 10, MaxK: 300}, "range of 10 to 300 K"},
	{"ntc limits", convert.NTC{Law: ntc.Law, Circuit: ntc.Circuit, ShortOhm: 5, OpenOhm: 1}, "shorted below 5 ohm"},
	{"ntc law", convert.NTC{Circuit: ntc.Circuit, Law: convert.SteinhartHart{A: 1e-3, B: -2e-4}}, "don't fall"},
	{"ntc law gives none", convert.NTC{Circuit: ntc.Circuit, Law: convert.SteinhartHart{A: -1e-2, B: 2e-4}}, "give no temperature"},
	{"ct ratio", convert.Transformer{}, "ratio of 0"},
	{"ct burden", convert.Transformer{Ratio: 2000}, "burden of 0 ohm"},
	{"ct turns", convert.Transformer{Ratio: 2000, BurdenOhm: 22, Turns: -1}, "-1 times"},
	{"ct bias", convert.Transformer{Ratio: 2000, BurdenOhm: 22, BiasV: -1}, "mid-point of -1 V"},
	{"ct tolerance", convert.Transformer{Ratio: 2000, BurdenOhm: 22, BiasTolV: 2}, "tolerance of 2 V"},
	{"ct peak", convert.Transformer{Ratio: 2000, BurdenOhm: 22}, "largest peak of 0 A"},
}

func TestOptionsThatCannotBeAreTold(t *testing.T) {
	for _, c := range refused {
		require.ErrorContains(t, c.c.Validate(), c.want, c.name)
	}
}

func TestConvertAllocatesNothing(t *testing.T) {
	for _, k := range kinds {
		require.Zero(t, testing.AllocsPerRun(20, func() { sink = k.Convert(convert.Signal{VoltV: 1.2, RefV: 5, RefOK: true}) }))
	}
}

var sink convert.Result

func BenchmarkConvert(b *testing.B) {
	for _, c := range []struct {
		name string
		c    convert.Converter
		volt float64
	}{{"loop", loop, 1.2}, {"ratiometric", ratio, 2.5}, {"ntc", ntc, 1.5}, {"pt100_warm", rtd, 0.12}, {"pt100_cold", rtd, 0.09}} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				sink = c.c.Convert(convert.Signal{VoltV: c.volt, RefV: 5, RefOK: true})
			}
		})
	}
}
