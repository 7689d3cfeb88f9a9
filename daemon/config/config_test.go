package config

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
	"headroom/rules/circuit/breaker"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/suction"
	"headroom/rules/wear"
)

func formatFloat(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// TestTradeFacts holds the defaults against what the trade says and against
// conversions worked out by hand.
func TestTradeFacts(t *testing.T) {
	c := Default()
	m, rules := &c.Engine.Machine, &c.Engine.Rules
	for _, x := range []struct {
		what      string
		got, want float64
		within    float64
		source    string
	}{
		{"supply at most 100 psi, Pa", rules[engine.InletHigh].Act, 100 * 6894.757, 1e-3, "common practice, no source; psi: NIST SP 811"},
		{"inlet water at most 140 °F, K", rules[engine.WaterHot].Act, (140 + 459.67) / 1.8, 1e-6, "common practice, no source; definition of °F"},
		{"circuit, A", m.CircuitA, 20, 0, "common practice, no source"},
		{"circuit, V", c.Circuit.VoltageV, 120, 0, "common practice, no source"},
		{"lasting load 80 % of 20 A, A", rules[engine.CircuitLoad].Warn, 16, 1e-12, "common practice, no source"},
		{"full load of 20 A, A", rules[engine.CircuitLoad].Act, 20, 1e-12, "definition"},
		{"12 AWG, m2", c.Cord.AreaM2, 3.31e-6, 1e-3, "table of ASTM B258, from memory: 3.31 mm2"},
		{"cord of 50 ft, m", c.Cord.LengthM, 50 * 0.3048, 1e-12, "common practice, no source; international foot"},
		{"supply hose 3/4 inch, m", c.SupplyHose.BoreM, 0.75 * 0.0254, 1e-12, "common practice, no source; international inch"},
		{"displacement, m3/rev", m.DisplacementM3, 4.63768e-6, 1e-5, "by hand: 7600 cm3/min / (1725/min x 0.95)"},
		{"no flow below 8 % of 7.6 L/min, m3/s", rules[engine.NoFlow].Act, 1.01333e-5, 1e-5, "by hand: 0.608 L/min / 60000"},
		{"flowing above 8 % of 7.6 L/min, m3/s", m.FlowOnM3s, 1.01333e-5, 1e-5, "by hand"},
		{"outlet warn 105 % of 9 MPa, Pa", rules[engine.OutletHigh].Warn, 9.45e6, 1e-12, "by hand"},
		{"outlet act 115 % of 9 MPa, Pa", rules[engine.OutletHigh].Act, 10.35e6, 1e-12, "by hand"},
		{"NPSH required, assumed, m", m.AssumedNPSHRM, 5, 0, "half of the 10 m that open water at sea level gives; common practice, no source"},
	} {
		require.NotEmpty(t, x.source)
		require.InDelta(t, x.want, x.got, x.within*x.want, "%s (%s)", x.what, x.source)
	}
	require.Equal(t, "common practice, no source", rules[engine.InletHigh].Source)
	require.Equal(t, breaker.UL489, c.Circuit.Standard)
	require.True(t, c.Pump.DisplacementDerived)
	require.Contains(t, c.Remarks[0], "displacement 4.638 cm3/rev is derived")
	require.Contains(t, c.Remarks[1], "assumed")
}

func TestDefaultLimits(t *testing.T) {
	c := Default()
	l := c.Engine.Rules[engine.InletLow]
	require.Equal(t, engine.Limit{
		On: true, Warn: 70e3, Act: 20e3, HasWarn: true, HasAct: true, WarnLevel: engine.Warning, ActLevel: engine.Act,
		Span: 200e3, Deadband: 5e3, WarnOn: time.Second, ActOn: time.Second, Off: 2 * time.Second, Source: "common practice, no source",
	}, l)
	require.False(t, c.Engine.Rules[engine.NoFlow].HasWarn)
	require.Equal(t, engine.Advice, c.Engine.Rules[engine.Departure].WarnLevel)
	require.False(t, c.Engine.Rules[engine.Departure].On)
	for ch := range frame.NumChannels {
		fitted := !channelDefaults[ch].notFitted
		require.Equal(t, fitted, c.Engine.Signals[ch].Fitted, ch)
		require.Equal(t, fitted, c.Stale[ch] > 0, ch)
		require.Less(t, c.Engine.Signals[ch].Min, c.Engine.Signals[ch].Max, ch)
	}
}

func TestPlant(t *testing.T) {
	p := Default().Engine.Plant
	for _, x := range []struct {
		what              string
		got, want, within float64
		source            string
	}{
		{"cord out and back, ohm", p.CordOhm, 2 * 50 * 1.98e-3, 0.01, "NEC chapter 9 table 8, 12 AWG: 1.98 ohm/kft at 75 °C, the cord at full load, from memory"},
		{"nozzle at 9 MPa, L/min", p.NozzleFactor * 3000 * 60e3, 4.0 * 3.785411784 * 0.571255, 1e-4, "by hand: root of 9e6 / (4000 x 6894.757) = 0.571255"},
		{"hose at 7.6 L/min, Pa", p.HoseCoefficient * 1.26667e-4 * 1.26667e-4, 0.026 * 30.48 / 0.00635 * 999 * 4.0 * 4.0 / 2, 0.15, "Darcy by hand, f = 0.026 read from a Moody chart at Re 22000, smooth"},
		{"quickest class 20, s at 7.2 times", p.Overload.TauS * math.Log(39.2/(39.2-1)), 6, 1e-3, "IEC 60947-4-1 class 20 trips in 6 to 20 s, from memory; (7.2/1.15)^2 = 39.2"},
	} {
		require.NotEmpty(t, x.source)
		require.InDelta(t, x.want, x.got, x.within*x.want, "%s (%s)", x.what, x.source)
	}
	require.Equal(t, suction.Triplex, p.PumpKind)
	_, err := engine.New(Default().Engine)
	require.NoError(t, err)

	c, problems := Parse("x", []byte("machine.drive = \"engine\""))
	require.Empty(t, Mistakes(problems))
	require.NotEmpty(t, problems, "the rules of the circuit do not watch an engine")
	require.Zero(t, c.Engine.Plant.Overload.RatedA)
	require.Equal(t, breaker.StandardUnknown, c.Engine.Plant.Breaker.Standard)
}

func TestBareStartsFromNothing(t *testing.T) {
	c, problems := Parse("x", []byte(`base = "bare"`))
	require.Empty(t, Mistakes(problems))
	require.Equal(t, [frame.NumChannels]time.Duration{}, c.Stale)
	for r := range engine.NumRules {
		require.False(t, c.Engine.Rules[r].On, r)
	}
	require.Zero(t, c.Engine.Machine.RatedFlowM3s)
	require.Zero(t, c.Engine.Machine.DisplacementM3)
	require.Zero(t, c.Engine.Machine.CircuitA)
	require.False(t, c.Simulator.On)
	require.Empty(t, c.Remarks)
	require.NoError(t, c.Engine.Validate())
}

func TestDepartureIsOnOnceLearning(t *testing.T) {
	c, problems := Parse("x", []byte("[normal]\nlearn = \"400 s\""))
	require.Empty(t, problems)
	require.True(t, c.Engine.Rules[engine.Departure].On)
	c, problems = Parse("x", []byte("[normal]\nlearn = \"400 s\"\n[rules.departure]\non = false"))
	require.Empty(t, problems)
	require.False(t, c.Engine.Rules[engine.Departure].On)
}

func TestDisplacementGoesBeforeTheDefaultFlow(t *testing.T) {
	c, problems := Parse("x", []byte("[machine]\ndisplacement = \"10 cm3\"\nrated_speed = \"1200 rpm\"\nvolumetric_efficiency = 0.9"))
	require.Empty(t, problems)
	require.InEpsilon(t, 10e-6*20*0.9, c.Engine.Machine.RatedFlowM3s, 1e-9, "by hand: 10.8 L/min")
	require.False(t, c.Pump.DisplacementDerived)
}

func TestSharesFollowTheirFigure(t *testing.T) {
	c, problems := Parse("x", []byte("[circuit]\nrating = \"15 A\"\n[motor]\nrated_current = \"12 A\"\n[rules.circuit_load]\nact = \"14 A\""))
	require.Empty(t, problems)
	require.InEpsilon(t, 12, c.Engine.Rules[engine.CircuitLoad].Warn, 1e-9, "80 % of 15 A")
	require.InEpsilon(t, 14, c.Engine.Rules[engine.CircuitLoad].Act, 1e-9)
}

func TestCSVMap(t *testing.T) {
	c, err := Load(filepath.Join(testneed.Root(t), "testdata", "config", "good", "sections-inline.toml"))
	require.NoError(t, err)
	require.Equal(t, '\t', c.CSV.Delimiter)
	require.Equal(t, CSVTime{Column: "t", Unit: "ms"}, c.CSV.Time)
	require.Len(t, c.CSV.Columns, 2)
	p := c.CSV.Columns[0]
	require.Equal(t, frame.InletPressure, p.Channel)
	require.InEpsilon(t, 6894.757, p.Unit.ToSI(1), 1e-6, "NIST SP 811")
	require.Equal(t, []float64{2, -1.5}, []float64{p.Scale, p.Offset})
	require.Equal(t, "P status", p.StatusColumn)
	require.InDelta(t, 1, c.CSV.Columns[1].Scale, 0)
	require.InEpsilon(t, 8*0.3048, c.Engine.Machine.NPSHRequired[0].HeadM, 1e-9)
	require.Equal(t, 1, c.Engine.Machine.NPSHPoints)
}

// TestPumpLoop: the side file for the public recordings is right in itself and
// names columns that are there.
func TestPumpLoop(t *testing.T) {
	path := filepath.Join(testneed.Root(t), "testdata", "pump-loop", "pump-loop.toml")
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	c, problems := Parse(path, data)
	require.Empty(t, render(problems))
	require.Len(t, c.CSV.Columns, 8)
	require.True(t, c.Engine.Rules[engine.Departure].On)
	require.InDelta(t, 400, c.Engine.Normal.LearnS, 0)
	for _, col := range c.CSV.Columns {
		require.NotContains(t, []string{"anomaly", "changepoint"}, col.Name, "a label is no input")
	}
}

func TestPumpLoopColumnsExist(t *testing.T) {
	c, err := Load(filepath.Join(testneed.Root(t), "testdata", "pump-loop", "pump-loop.toml"))
	require.NoError(t, err)
	files, err := filepath.Glob(filepath.Join(testneed.Shared(t, "pump-data"), "*", "*.csv"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, f := range files {
		names, first := headAndFirst(t, f, c.CSV.Delimiter)
		for _, col := range c.CSV.Columns {
			require.Contains(t, names, col.Name, f)
		}
		_, err := time.Parse(c.CSV.Time.Format, first[names[c.CSV.Time.Column]])
		require.NoError(t, err, f)
	}
}

func TestServiceIntervals(t *testing.T) {
	require.Equal(t, wear.DefaultIntervals(), Default().Service)
}
