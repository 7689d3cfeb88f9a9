package cavitation_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/cavitation"
)

// Source of all rows: the documented ranges.
func TestConfigsThatAreRefused(t *testing.T) {
	for _, c := range []struct {
		name, want string
		edit       func(*cavitation.Config)
	}{
		{"NaN", "flow deficit: give values", func(c *cavitation.Config) { c.Limits[cavitation.FlowDeficit].Speaks = math.NaN() }},
		{"percent for a share", "flow deficit: give values", func(c *cavitation.Config) { c.Limits[cavitation.FlowDeficit].Strong = 15 }},
		{"margin the wrong way", "strong must be below speaks", func(c *cavitation.Config) {
			c.Limits[cavitation.NPSHMargin] = cavitation.Limit{Speaks: 0, Strong: 1}
		}},
		{"both the same", "strong must be above speaks", func(c *cavitation.Config) {
			c.Limits[cavitation.VibrationRise] = cavitation.Limit{Speaks: 2, Strong: 2}
		}},
		{"empty", "strong must be below speaks", func(c *cavitation.Config) { *c = cavitation.Config{} }},
		{"inlet", "low inlet pressure", func(c *cavitation.Config) { c.InletLowGaugePa = math.Inf(1) }},
		{"cool", "margin with cool water", func(c *cavitation.Config) { c.CoolMarginM = -1 }},
	} {
		config := cavitation.DefaultConfig()
		c.edit(&config)
		r, err := cavitation.New(config)
		require.ErrorContains(t, err, c.want, c.name)
		require.ErrorContains(t, err, "cannot ", c.name)
		require.Equal(t, cavitation.NotConfigured, r.Judge(sound()).Reason)
	}
}

func TestRefusals(t *testing.T) {
	in := sound()
	in.Delivering = false
	v := rules(t).Judge(in)
	require.Equal(t, cavitation.CannotJudge, v.Grade)
	require.Equal(t, cavitation.NotDelivering, v.Reason)
	require.Equal(t, cavitation.VibrationRise, v.Findings[cavitation.VibrationRise].Item)
	require.Equal(t, cavitation.NotConfigured, cavitation.Rules{}.Judge(in).Reason)
}

// A value that no sensor can mean is no reading, on every sign.
func TestImplausibleIsNoReading(t *testing.T) {
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e6, -1e6} {
		in := sound()
		for _, s := range signs(&in) {
			s.at.Value = bad
		}
		v := rules(t).Judge(in)
		require.Equal(t, cavitation.CannotJudge, v.Grade)
		require.Equal(t, cavitation.Items(1<<cavitation.NumItems-1), v.In(cavitation.NoReading))
	}
}

func TestNames(t *testing.T) {
	for g := cavitation.CannotJudge; g <= cavitation.Severe; g++ {
		require.Equal(t, g == cavitation.CannotJudge, g.String() == "cannot judge")
	}
	for i := cavitation.Item(0); i < cavitation.NumItems; i++ {
		require.NotEqual(t, "unknown", i.String())
		require.NotEmpty(t, i.Unit())
	}
	require.Equal(t, "unknown", cavitation.Item(cavitation.NumItems).String())
	for s := cavitation.NotFitted; s <= cavitation.Speaks; s++ {
		require.Equal(t, s == cavitation.NotFitted, s.String() == "not fitted")
	}
	for r := cavitation.Judged; r <= cavitation.TooLittleKnown; r++ {
		require.Equal(t, r == cavitation.Judged, r.String() == "judged")
	}
	for c := cavitation.Undetermined; c <= cavitation.WornPump; c++ {
		require.NotEqual(t, "none", c.String())
	}
}

// Source of all rows: the documented ranges.
func TestFlowRefusals(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for name, f := range map[string]func() (float64, bool){
		"rev/min":         func() (float64, bool) { return cavitation.IdealFlowM3s(1e-5, 1450, 0.9) },
		"percent":         func() (float64, bool) { return cavitation.IdealFlowM3s(1e-5, 24, 90) },
		"nothing to miss": func() (float64, bool) { return cavitation.Shortfall(0, 1) },
		"measured NaN":    func() (float64, bool) { return cavitation.Shortfall(1, nan) },
		"expected Inf":    func() (float64, bool) { return cavitation.Shortfall(inf, 1) },
		"no baseline":     func() (float64, bool) { return cavitation.Rise(1, 0) },
		"rise Inf":        func() (float64, bool) { return cavitation.Rise(inf, 1) },
		"rise too far":    func() (float64, bool) { return cavitation.Rise(1, 1e-5) },
	} {
		v, ok := f()
		require.False(t, ok, name)
		require.Zero(t, v, name)
	}
}

func FuzzJudge(f *testing.F) {
	f.Add(20.0, 20.0, 250e3, 80.0, 0.01, 1.0, 0.03, uint16(0xffff))
	f.Add(-3.0, -180.0, -5e4, -1.0, 0.9, 9.0, 0.9, uint16(0xffff))
	f.Add(math.NaN(), math.Inf(1), math.Inf(-1), 5e-324, math.Copysign(0, -1), math.MaxFloat64, 1.5, uint16(0x5555))
	f.Fuzz(func(t *testing.T, margin, low, inlet, warm, share, ratio, depth float64, bits uint16) {
		bit := func(n int) bool { return bits>>n&1 == 1 }
		read := func(n int, v float64) cavitation.Reading {
			return cavitation.Reading{Value: v, Fitted: bit(n) || bit(n+1), Known: bit(n)}
		}
		v := rules(t).Judge(cavitation.Inputs{
			Delivering: bit(0), MarginAssumed: bit(1), MarginM: read(2, margin), LowMarginM: read(3, low),
			CoolMarginM: read(4, low), InletGaugePa: read(5, inlet), TempHeadroomK: read(6, warm),
			FlowDeficit: read(7, share), FlowSwing: read(8, ratio), CurrentDrop: read(9, share),
			CurrentSwing: read(10, ratio), PulsationRise: read(11, ratio), PulsationDepth: read(12, depth),
			VibrationRise: read(13, ratio),
		})
		if v.Grade > v.Reachable || v.Grade > cavitation.Severe || v.Cause > cavitation.WornPump {
			t.Errorf("verdict out of its ranges: %+v", v)
		}
		for _, n := range v.Findings {
			if !(n.Strength >= 0 && n.Strength <= 1) || math.IsNaN(n.Quantity) || math.IsInf(n.Quantity, 0) {
				t.Errorf("finding out of its ranges: %+v", n)
			}
		}
		for _, f := range []func(a, b float64) (float64, bool){cavitation.Shortfall, cavitation.Rise} {
			x, ok := f(margin, ratio)
			if math.IsNaN(x) || math.IsInf(x, 0) || (!ok && x != 0) {
				t.Errorf("gave %g, ok %v", x, ok)
			}
		}
		if x, ok := cavitation.IdealFlowM3s(share, warm, depth); math.IsNaN(x) || (!ok && x != 0) {
			t.Errorf("ideal flow gave %g, ok %v", x, ok)
		}
	})
}

func BenchmarkJudge(b *testing.B) {
	r, in := rules(b), with(margin(-2, -1), flow(0.25, 3), pulses(5, 0.6))
	b.ReportAllocs()
	for b.Loop() {
		r.Judge(in)
	}
}
