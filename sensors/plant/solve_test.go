package plant

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// TestSolveMeetsTheSprings: the pressures that the solver found are those of
// the water that then is in the hoses, whatever the step before was like.
func TestSolveMeetsTheSprings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cfg := Typical()
		cfg.Supply.StaticGaugePa = rapid.Float64Range(0, 800e3).Draw(t, "static")
		cfg.Pump.PassLossPa = rapid.Float64Range(minPassPa, 200e3).Draw(t, "pass")
		p, err := New(cfg)
		if err != nil {
			t.Fatal(err)
		}
		in := Idle()
		s := p.Start(&in)
		for i := range 1500 {
			if i%100 == 0 {
				in.TapOpen = rapid.SampledFrom([]float64{0, 0.01, 0.3, 1}).Draw(t, "tap")
				in.TriggerOpen, in.SwitchOn, in.NozzleOff = rapid.Bool().Draw(t, "trigger"), rapid.Bool().Draw(t, "switch"), rapid.Bool().Draw(t, "off")
				in.NozzleScale = rapid.SampledFrom([]float64{0, 1e-3, 0.5, 1, 3}).Draw(t, "nozzle")
				in.Kink = rapid.SampledFrom([]float64{0, 0.9, 0.98, 0.99, 1}).Draw(t, "kink")
				in.AirLeakM2 = rapid.SampledFrom([]float64{0, 1e-8, 1e-5}).Draw(t, "air")
			}
			vapour := vapourAbsPa(s.InletK) - cfg.AirAbsPa
			p.Step(&s, &in, 0.01)
			if d := s.InletGaugePa - math.Max(s.InletM3/p.inletM3Pa, vapour); math.Abs(d) > 1 {
				t.Fatalf("inlet: %v Pa off its spring after %v s: %+v", d, s.TimeS, s)
			}
			if d := s.OutletGaugePa - s.OutletM3/p.outletM3Pa; math.Abs(d) > 1 {
				t.Fatalf("outlet: %v Pa off its spring after %v s: %+v", d, s.TimeS, s)
			}
		}
	})
}
