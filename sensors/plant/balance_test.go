package plant_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/sensors/plant"
)

// drawConfig is a random machine: everything that a scenario may vary and
// more, within what somebody could build.
func drawConfig(t *rapid.T) plant.Config {
	c := plant.Typical()
	f := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
	c.AirAbsPa, _ = plant.AirAbsPa(f("altitude", 0, 4000))
	c.Supply.StaticGaugePa = f("static", 0, 800e3)
	c.Supply.HousePipeLossPa = f("house", 0, 100e3)
	c.Supply.HoseLengthM = f("hose", 1, 100)
	c.Supply.HoseBoreM = f("bore", 0.006, 0.03)
	if rapid.Bool().Draw(t, "tank") {
		c.Supply.TankM3 = f("tank", 0.001, 1)
		c.Supply.TankDepthM = f("depth", 0.1, 2)
		c.Supply.TankBaseM = f("base", -3, 3)
	}
	c.Pump.LoopM3 = f("loop", 0.3e-3, 5e-3)
	c.Pump.NPSHRequiredM = f("npshr", 0.2, 8)
	c.Outlet.BypassPa = f("bypass", 0, 9e6)
	c.Outlet.NozzleAreaM2 = f("nozzle", 1e-7, 5e-6)
	c.Outlet.HoseLengthM = f("outhose", 5, 120)
	if rapid.Bool().Draw(t, "engine") {
		c.Drive.Kind = plant.Engine
	}
	c.Circuit.LineV = f("line", 80, 140)
	return c
}

// drawInputs is a random state of levers and faults; often one at its limit.
func drawInputs(t *rapid.T) plant.Inputs {
	in := plant.Idle()
	f := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
	b := func(name string) bool { return rapid.Bool().Draw(t, name) }
	in.TapOpen = f("tap", 0, 1)
	in.SecondTapOpen = f("second", 0, 1)
	in.SupplyTempK = f("supply", 274, 353)
	in.AmbientK = f("ambient", 260, 320)
	in.Kink, in.Clog = f("kink", 0, 1), f("clog", 0, 1)
	if b("leak") {
		in.AirLeakM2 = f("air", 1e-9, 1e-4)
	}
	in.TankFillM3s = f("fill", 0, 5e-4)
	in.ValveWear = f("wear", 0, 1)
	in.PackingWear, in.BeltSlip = f("packing", 0, 0.5), f("belt", 0, 0.3)
	in.UnloaderTurn = f("turn", 0.3, 2)
	in.TriggerOpen, in.NozzleOff, in.SwitchOn, in.PowerCut, in.ResetBreaker = b("trigger"), b("off"), b("switch"), b("cut"), b("reset")
	in.NozzleScale = f("scale", 0, 3)
	if b("burst") {
		in.BurstM2 = f("hole", 1e-9, 1e-4)
	}
	in.LineScale, in.ExtraCordOhm = f("scaleV", 0.5, 1.1), f("cord", 0, 3)
	if b("seize") {
		in.SeizeNm = f("nm", 0, 80)
	}
	return in
}

// TestBalance: whatever people and faults do, no water and no energy comes from
// nowhere, nothing turns into NaN, and the inlet never falls below the pressure
// at which its water boils. Source: conservation of mass and energy.
func TestBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, err := plant.New(drawConfig(t))
		require.NoError(t, err)
		in := drawInputs(t)
		s := p.Start(&in)
		dt := rapid.Float64Range(0.002, 0.02).Draw(t, "dt")
		for range rapid.IntRange(1, 6).Draw(t, "acts") {
			in = drawInputs(t)
			for range 300 {
				before := s.Ledger
				p.Step(&s, &in, dt)
				checkStep(t, p, &s, &before)
			}
		}
	})
}

func checkStep(t *rapid.T, p *plant.Plant, s *plant.State, before *plant.Ledger) {
	// A step may round each of some 40 terms, packing and belt among them, by up
	// to two units in the last place of the size of what is stored: 2e-14. What
	// really comes from nowhere is larger by many powers of ten.
	l := &s.Ledger
	sizeKg := math.Abs(l.WaterStoredKg) + l.WaterInKg + l.WaterOutKg + 1e-3
	sizeJ := math.Abs(l.EnergyStoredJ) + math.Abs(l.EnergyInJ) + math.Abs(l.EnergyOutJ) + 1
	for _, c := range []struct {
		what       string
		got, limit float64
	}{
		{"water in one step", l.WaterErrorKg() - before.WaterErrorKg(), 2e-14 * sizeKg},
		{"energy in one step", l.EnergyErrorJ() - before.EnergyErrorJ(), 2e-14 * sizeJ},
		{"water since the start", l.WaterErrorKg(), 1e-11 * sizeKg},
		{"energy since the start", l.EnergyErrorJ(), 1e-11 * sizeJ},
	} {
		if !(math.Abs(c.got) <= c.limit) {
			t.Fatalf("%s: %v from nowhere, %v allowed", c.what, c.got, c.limit)
		}
	}
	sum := 0.0
	for _, v := range []float64{
		s.InletGaugePa, s.OutletGaugePa, s.CurrentA, s.MotorV, s.InletK, s.OutletK, s.MetalK, s.WindingK, s.NozzleM3s, s.AirM3s,
	} {
		sum += v
	}
	if math.IsNaN(sum) || math.IsInf(sum, 0) {
		t.Fatalf("not a number: %+v", s)
	}
	for _, v := range []float64{
		s.InletGaugePa + p.Config().AirAbsPa, s.NPSHAvailableM, s.SpeedHz, s.PumpM3s, s.SupplyM3s, s.TankM3,
	} {
		if v < 0 {
			t.Fatalf("below vacuum, or flowing or turning backwards: %+v", s)
		}
	}
}

// TestBalanceOverAnHour measures how far the books drift in an hour of work,
// bypass and stops.
func TestBalanceOverAnHour(t *testing.T) {
	p, err := plant.New(plant.Typical())
	require.NoError(t, err)
	in := plant.Idle()
	in.TapOpen = 1
	s := p.Start(&in)
	for i := range 360_000 {
		phase := i / 3000 % 8
		in.SwitchOn, in.TriggerOpen = phase > 0, phase%4 != 3
		in.TapOpen = 1
		if phase == 6 {
			in.TapOpen = 0
		}
		p.Step(&s, &in, 0.01)
	}
	l := &s.Ledger
	require.Greater(t, l.WaterInKg, 200.0, "the job did nothing")
	require.Less(t, math.Abs(l.WaterErrorKg())/l.WaterInKg, 1e-13)
	require.Less(t, math.Abs(l.EnergyErrorJ())/l.EnergyInJ, 1e-11)
	t.Logf("water %.1f kg, error %.1e kg; energy in %.2f MJ, error %.1e J", l.WaterInKg, l.WaterErrorKg(), l.EnergyInJ/1e6, l.EnergyErrorJ())
}

// TestStepLength: halving the step changes the course of a job by little.
func TestStepLength(t *testing.T) {
	run := func(dt float64) plant.State {
		p, err := plant.New(plant.Typical())
		require.NoError(t, err)
		in := plant.Idle()
		s := p.Start(&in)
		for i := range int(math.Round(60 / dt)) {
			at := float64(i) * dt
			in.TapOpen, in.TriggerOpen, in.SwitchOn = 1, at > 2 && at < 40, at > 5
			if at > 20 {
				in.Kink = 0.975
			}
			p.Step(&s, &in, dt)
		}
		return s
	}
	a, b := run(0.01), run(0.0025)
	require.InEpsilon(t, b.OutletGaugePa, a.OutletGaugePa, 2e-3)
	require.InEpsilon(t, b.InletK, a.InletK, 1e-4)
	require.InEpsilon(t, b.Ledger.WaterInKg, a.Ledger.WaterInKg, 5e-3)
	require.InEpsilon(t, b.CurrentA, a.CurrentA, 1e-2)
}

func BenchmarkStep(b *testing.B) {
	p, err := plant.New(plant.Typical())
	require.NoError(b, err)
	in := plant.Idle()
	in.TapOpen, in.TriggerOpen, in.SwitchOn = 1, true, true
	s := p.Start(&in)
	b.ReportAllocs()
	for b.Loop() {
		p.Step(&s, &in, 0.01)
	}
}

// BenchmarkStepBusy opens and shuts the trigger, so that the solver works.
func BenchmarkStepBusy(b *testing.B) {
	p, err := plant.New(plant.Typical())
	require.NoError(b, err)
	in := plant.Idle()
	in.TapOpen, in.SwitchOn = 1, true
	s := p.Start(&in)
	i := 0
	for b.Loop() {
		i++
		in.TriggerOpen = i/200%2 == 0
		p.Step(&s, &in, 0.01)
	}
}
