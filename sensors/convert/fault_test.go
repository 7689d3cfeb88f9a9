package convert_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/circuit"
	"headroom/rules/frame"
	"headroom/sensors/convert"
)

func sine(phase float64) float64 { return math.Sin(2 * math.Pi * phase) }
func abs(x float64) float64      { return math.Abs(x) }

var (
	loop    = convert.Loop{ShuntOhm: 100, Span: convert.Span{Low: 0, High: 1.6e6}}
	ratio   = convert.Ratiometric{Span: convert.Span{Low: 0, High: 1e6}}
	tenVolt = convert.Voltage{HighV: 10, Span: convert.Span{High: 100}}
	oneFive = convert.Voltage{LowV: 1, HighV: 5, Span: convert.Span{High: 100}}
	pulled  = convert.Voltage{HighV: 10, Span: convert.Span{High: 100}, OpenHigh: true}
	supply  = convert.Supply{MinV: 4.75, MaxV: 5.25}
	ntc     = convert.NTC{Law: convert.Beta(10e3, 298.15, 3950), Circuit: convert.Circuit{ReferenceOhm: 10e3, SupplyV: 3.3}}
	ntcDown = convert.NTC{Law: convert.Beta(10e3, 298.15, 3950), Circuit: convert.Circuit{Feed: convert.PullDown, ReferenceOhm: 10e3}}
	rtd     = convert.RTD{R0Ohm: 100, Circuit: convert.Circuit{Feed: convert.CurrentSource, CurrentA: 1e-3}}
)

const (
	ne43     = "NAMUR NE 43: measure 3.8-20.5 mA, failure at 3.6 and below, 21.0 and above (secondary pages)"
	similar  = "NE 43 carried over: (I-4)/16 of the span"
	practice = "common practice, no source"
	ohms     = "Ohm's law"
)

// faults is every status that each kind can give.
var faults = []struct {
	name   string
	c      convert.Converter
	volt   float64
	ref    float64 // 0: not known
	value  float64
	status frame.Status
	reason convert.Reason
	source string
}{
	{"loop 0 mA", loop, 0, 0, 0, frame.Failed, convert.LoopOpen, practice},
	{"loop 2.1 mA", loop, 0.21, 0, 0, frame.Failed, convert.LoopOpen, practice},
	{"loop 3.5 mA", loop, 0.35, 0, 0, frame.Failed, convert.SignalsFailureLow, ne43},
	{"loop 3.6 mA", loop, 0.36, 0, 0, frame.Failed, convert.SignalsFailureLow, ne43},
	{"loop 3.61 mA", loop, 0.361, 0, 0, frame.OutOfBand, convert.MarginLow, ne43},
	{"loop 3.79 mA", loop, 0.379, 0, 0, frame.OutOfBand, convert.MarginLow, ne43},
	{"loop 3.8 mA", loop, 0.38, 0, -20e3, frame.Good, convert.OK, ne43},
	{"loop 4 mA", loop, 0.4, 0, 0, frame.Good, convert.OK, ne43},
	{"loop 12 mA", loop, 1.2, 0, 800e3, frame.Good, convert.OK, ne43},
	{"loop 20 mA", loop, 2, 0, 1.6e6, frame.Good, convert.OK, ne43},
	{"loop 20.5 mA", loop, 2.05, 0, 1.65e6, frame.Good, convert.OK, ne43},
	{"loop 20.51 mA", loop, 2.051, 0, 0, frame.OutOfBand, convert.MarginHigh, ne43},
	{"loop 20.99 mA", loop, 2.099, 0, 0, frame.OutOfBand, convert.MarginHigh, ne43},
	{"loop 21 mA", loop, 2.1, 0, 0, frame.Failed, convert.SignalsFailureHigh, ne43},
	{"loop 23.1 mA", loop, 2.31, 0, 0, frame.Failed, convert.LoopShort, practice},
	{"loop reversed", loop, -1, 0, 0, frame.Failed, convert.LoopOpen, practice},

	{"ratio no supply", ratio, 2.5, 0, 0, frame.Failed, convert.NoReference, practice},
	{"ratio supply low", ratio, 2.5, 4.4, 0, frame.Failed, convert.ReferenceLow, practice},
	{"ratio supply high", ratio, 2.5, 5.6, 0, frame.Failed, convert.ReferenceHigh, practice},
	{"ratio 0 V", ratio, 0, 5, 0, frame.Failed, convert.SignalLow, practice},
	{"ratio 0.3 V", ratio, 0.3, 5, 0, frame.Failed, convert.BelowBand, similar},
	{"ratio 0.40 V", ratio, 0.40, 5, 0, frame.Failed, convert.BelowBand, similar},
	{"ratio 0.41 V", ratio, 0.41, 5, 0, frame.OutOfBand, convert.MarginLow, similar},
	{"ratio 0.45 V", ratio, 0.45, 5, -12.5e3, frame.Good, convert.OK, similar},
	{"ratio 2.5 V", ratio, 2.5, 5, 500e3, frame.Good, convert.OK, similar},
	{"ratio 2.5 V at 4.8 V", ratio, 2.4, 4.8, 500e3, frame.Good, convert.OK, similar},
	{"ratio 4.625 V", ratio, 4.625, 5, 1.03125e6, frame.Good, convert.OK, similar},
	{"ratio 4.7 V", ratio, 4.7, 5, 0, frame.OutOfBand, convert.MarginHigh, similar},
	{"ratio 4.75 V", ratio, 4.75, 5, 0, frame.Failed, convert.AboveBand, similar},
	{"ratio 5 V", ratio, 5, 5, 0, frame.Failed, convert.SignalHigh, practice},

	{"0-10 V at 0", tenVolt, 0, 0, 0, frame.Good, convert.OK, "definition"},
	{"0-10 V at -0.2", tenVolt, -0.2, 0, -2, frame.Good, convert.OK, similar},
	{"0-10 V at -0.3", tenVolt, -0.3, 0, 0, frame.Failed, convert.Reversed, similar},
	{"0-10 V at 5", tenVolt, 5, 0, 50, frame.Good, convert.OK, "definition"},
	{"0-10 V at 10.4", tenVolt, 10.4, 0, 0, frame.OutOfBand, convert.MarginHigh, similar},
	{"0-10 V at 10.7", tenVolt, 10.7, 0, 0, frame.Failed, convert.AboveBand, similar},
	{"0-10 V pulled up, open", pulled, 11, 0, 0, frame.Failed, convert.WireOff, similar},
	{"1-5 V at 0", oneFive, 0, 0, 0, frame.Failed, convert.SignalLow, similar},
	{"1-5 V at -1", oneFive, -1, 0, 0, frame.Failed, convert.Reversed, practice},
	{"1-5 V at 0.8", oneFive, 0.8, 0, 0, frame.Failed, convert.BelowBand, similar},
	{"1-5 V at 0.92", oneFive, 0.92, 0, 0, frame.OutOfBand, convert.MarginLow, similar},
	{"1-5 V at 3", oneFive, 3, 0, 50, frame.Good, convert.OK, "definition"},

	{"supply off", supply, 0.1, 0, 0, frame.Failed, convert.SignalLow, practice},
	{"supply low", supply, 4.7, 0, 0, frame.Failed, convert.ReferenceLow, practice},
	{"supply good", supply, 5.01, 0, 5.01, frame.Good, convert.OK, "definition"},
	{"supply high", supply, 5.3, 0, 0, frame.Failed, convert.ReferenceHigh, practice},

	{"NTC open", ntc, 3.3, 0, 0, frame.Failed, convert.SensorOpen, ohms},
	{"NTC nearly open", ntc, 3.3 * 600e3 / 610e3, 0, 0, frame.Failed, convert.SensorOpen, ohms},
	{"NTC short", ntc, 0, 0, 0, frame.Failed, convert.SensorShort, ohms},
	{"NTC 40 ohm", ntc, 3.3 * 40 / 10040, 0, 0, frame.Failed, convert.SensorShort, ohms},
	{"NTC 25 C", ntc, 1.65, 0, 298.15, frame.Good, convert.OK, "definition of R0 and T0"},
	{"NTC too hot", ntc, 3.3 * 300 / 10300, 0, 0, frame.OutOfBand, convert.TooHot, "ntc_10k.csv: 359 ohm at 125 C"},
	{"NTC too cold", ntc, 3.3 * 450e3 / 460e3, 0, 0, frame.OutOfBand, convert.TooCold, "105 kohm at -20 C, 336 kohm at -40 C"},
	{"NTC below ground, open", ntcDown, 0, 5, 0, frame.Failed, convert.SensorOpen, ohms},
	{"NTC below ground, short", ntcDown, 5, 5, 0, frame.Failed, convert.SensorShort, ohms},
	{"NTC without its supply", ntcDown, 2, 0, 0, frame.Failed, convert.NoReference, practice},
	{"NTC supply off", ntcDown, 0, 0.5, 0, frame.Failed, convert.ReferenceLow, practice},

	{"Pt100 open", rtd, 2, 0, 0, frame.Failed, convert.SensorOpen, "IEC 60751: 390.5 ohm at 850 C"},
	{"Pt100 short", rtd, 0.01, 0, 0, frame.Failed, convert.SensorShort, "IEC 60751: 18.5 ohm at -200 C"},
	{"Pt100 reversed", rtd, -0.1, 0, 0, frame.Failed, convert.SensorShort, ohms},
	{"Pt100 100 C", rtd, 0.1385055, 0, 373.15, frame.Good, convert.OK, "IEC 60751 table"},
	{"Pt100 200 C", rtd, 0.175856, 0, 0, frame.OutOfBand, convert.TooHot, "IEC 60751 table"},
	{"Pt100 -100 C", rtd, 0.0602558, 0, 0, frame.OutOfBand, convert.TooCold, "IEC 60751 table"},
	{"no number", loop, math.NaN(), 0, 0, frame.Failed, convert.NoNumber, practice},
}

func TestEveryFaultHasItsName(t *testing.T) {
	seen := map[convert.Reason]bool{}
	for _, c := range faults {
		require.NoError(t, c.c.Validate(), c.name)
		r := c.c.Convert(convert.Signal{VoltV: c.volt, RefV: c.ref, RefOK: c.ref != 0})
		require.Equal(t, c.status, r.Status, "%s (%s): %s", c.name, c.source, r.Words())
		require.Equal(t, c.reason, r.Reason, "%s (%s): %s", c.name, c.source, r.Words())
		require.InDelta(t, c.value, r.Value, 1e-6*math.Max(1, math.Abs(c.value)), "%s (%s)", c.name, c.source)
		require.Equal(t, r.Status == frame.Good, r.Words() == "", c.name)
		seen[r.Reason] = true
	}
	for r := convert.LoopOpen; r <= convert.TooHot; r++ {
		if r != convert.MarginTooLong {
			require.True(t, seen[r], "no case gives reason %d: %s", r, r.Words())
		}
	}
}

func TestWordsName(t *testing.T) {
	for _, c := range []struct {
		r    convert.Result
		want string
	}{
		{loop.Convert(convert.Signal{VoltV: 0.21}), "loop current 2.1 mA: wire off or transmitter without supply"},
		{rtd.Convert(convert.Signal{VoltV: 2}), "resistance 2e+03 ohm: wire off or sensor open"},
		{ratio.Convert(convert.Signal{VoltV: 2.5, RefV: 4.2, RefOK: true}), "voltage 4.2 V: the transducer's supply is too low: supply wire off or short"},
		{ratio.Convert(convert.Signal{VoltV: 0.05, RefV: 5, RefOK: true}), "signal 1 % of the supply: signal wire off, or short to ground"},
		{ratio.Convert(convert.Signal{}), "the transducer's supply voltage isn't known: check the input that measures it"},
	} {
		require.Equal(t, c.want, c.r.Words())
	}
}

func TestOnlyALiveZeroTellsAWireOff(t *testing.T) {
	require.False(t, tenVolt.TellsWireOff())
	require.True(t, oneFive.TellsWireOff())
	require.True(t, pulled.TellsWireOff())
}

func TestHoldFailsAfterItsTime(t *testing.T) {
	var h convert.Hold
	in := loop.Convert(convert.Signal{VoltV: 0.37})
	fine := loop.Convert(convert.Signal{VoltV: 1})
	for _, c := range []struct {
		at   time.Duration
		r    convert.Result
		want frame.Status
	}{
		{0, in, frame.OutOfBand},
		{3999 * time.Millisecond, in, frame.OutOfBand},
		{4 * time.Second, in, frame.Failed},
		{5 * time.Second, fine, frame.Good},
		{6 * time.Second, in, frame.OutOfBand},
		{10 * time.Second, in, frame.Failed},
	} {
		require.Equal(t, c.want, h.Judge(c.r, c.at, convert.DefaultHold).Status, "%v", c.at)
	}
}

// Source: 100 A : 50 mA into 22 ohm is 1.1 V at 100 A, ideal transformer.
func TestTransformer(t *testing.T) {
	ct := convert.Transformer{Ratio: 2000, BurdenOhm: 22, BiasV: 1.65, MaxPeakA: 100 * math.Sqrt2}
	require.NoError(t, ct.Validate())
	require.InDelta(t, 100, ct.SampleA(1.65+1.1), 1e-9)
	require.InDelta(t, -50, ct.SampleA(1.65-0.55), 1e-9)
	twice := ct
	twice.Turns = 2
	require.InDelta(t, 50, twice.SampleA(1.65+1.1), 1e-9)
	lo, hi := ct.InputV()
	require.InDelta(t, 1.65-1.1*math.Sqrt2*1.02, lo, 1e-9)
	require.InDelta(t, 1.65+1.1*math.Sqrt2*1.02, hi, 1e-9)

	wave := func(peakA, offV float64) circuit.Wave {
		x := make([]float64, 172)
		for i := range x {
			x[i] = ct.SampleA(1.65 + offV + peakA*0.011*math.Sin(2*math.Pi*60*float64(i)/860))
		}
		return circuit.RMS(x, 860, 60)
	}
	for _, c := range []struct {
		name   string
		w      circuit.Wave
		status frame.Status
		reason convert.Reason
	}{
		{"good", wave(30, 0), frame.Good, convert.OK},
		{"off", wave(0, 0), frame.Good, convert.OK},
		{"plug off", wave(0, -1.65), frame.Failed, convert.BiasOff},
		{"bias high", wave(30, 0.2), frame.Failed, convert.BiasOff},
		{"inrush", wave(180, 0), frame.OutOfBand, convert.OverRange},
		{"too short", circuit.RMS(make([]float64, 5), 860, 60), frame.Failed, convert.TooFewSamples},
		{"too slow", circuit.RMS(make([]float64, 500), 600, 60), frame.Failed, convert.TooFewSamples},
		{"no number", circuit.RMS([]float64{13: math.NaN(), 20: 0}, 860, 60), frame.Failed, convert.NoNumber},
		{"unknown", circuit.Wave{}, frame.Failed, convert.NoNumber},
	} {
		r := ct.Judge(c.w)
		require.Equal(t, c.status, r.Status, c.name)
		require.Equal(t, c.reason, r.Reason, c.name)
	}
	require.InEpsilon(t, 30/math.Sqrt2, ct.Judge(wave(30, 0.02)).Value, 1e-3)
	// Over the range the RMS stays as the least: 180 A of amplitude, RMS of a sine.
	require.InEpsilon(t, 180/math.Sqrt2, ct.Judge(wave(180, 0)).Value, 1e-3)
	require.Zero(t, ct.Judge(wave(180, 0.2)).Value, "a wrong mid-point bounds nothing")
}

// Source: sin(x)/x in tables: x = pi/2 gives 2/pi = 0.6366.
func TestFilterGain(t *testing.T) {
	g, ok := convert.FilterGain(429.999999, 860)
	require.True(t, ok)
	require.InDelta(t, 2/math.Pi, g, 1e-6)
	g, ok = convert.FilterGain(0, 860)
	require.True(t, ok)
	require.Equal(t, 1.0, g)
	_, ok = convert.FilterGain(430, 860)
	require.False(t, ok)
}
