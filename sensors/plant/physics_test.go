package plant_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/water"
	"headroom/sensors/plant"
)

// work brings the machine to steady work and hands it over.
func work(t *testing.T, cfg plant.Config, change func(*plant.Inputs)) (*plant.Plant, plant.State, plant.Inputs) {
	t.Helper()
	p, err := plant.New(cfg)
	require.NoError(t, err)
	in := plant.Idle()
	in.TapOpen, in.TriggerOpen = 1, true
	s := p.Start(&in)
	run(p, &s, &in, 5)
	in.SwitchOn = true
	if change != nil {
		change(&in)
	}
	run(p, &s, &in, 30)
	return p, s, in
}

func run(p *plant.Plant, s *plant.State, in *plant.Inputs, seconds float64) {
	for range int(math.Round(seconds / 0.01)) {
		p.Step(s, in, 0.01)
	}
}

func TestCordOhm(t *testing.T) {
	for _, c := range []struct {
		awg    int
		perKft float64 // one conductor, ohm per 1000 ft at 20 C
		source string
	}{
		{12, 1.588, "copper wire table at 20 C (NBS Handbook 100), from memory"},
		{14, 2.525, "same"},
		{16, 4.016, "same"},
		{18, 6.385, "same"},
	} {
		got, ok := plant.CordOhm(c.awg, 304.8)
		require.True(t, ok)
		require.InEpsilon(t, 2*c.perKft*1.0393, got, 1e-3, "%d AWG, 30 C: %s", c.awg, c.source)
	}
	_, ok := plant.CordOhm(40, 10)
	require.False(t, ok)
}

// TestAirAbsPa compares with the tables of the standard atmosphere.
func TestAirAbsPa(t *testing.T) {
	for altitude, want := range map[float64]float64{0: 101325, 1000: 89874.6, 2000: 79495.2} {
		got, ok := plant.AirAbsPa(altitude)
		require.True(t, ok)
		require.InEpsilon(t, want, got, 1e-4, "ISO 2533 at %v m", altitude)
	}
	_, ok := plant.AirAbsPa(9000)
	require.False(t, ok)
}

// TestSteadyWork holds the whole machine against sums done by hand.
func TestSteadyWork(t *testing.T) {
	cfg := plant.Typical()
	_, s, _ := work(t, cfg, nil)
	require.InEpsilon(t, s.SupplyM3s, s.NozzleM3s, 1e-3, "what goes in comes out")
	jet := s.NozzleM3s / cfg.Outlet.NozzleAreaM2
	require.InEpsilon(t, 998.2/2*jet*jet, s.NozzleGaugePa, 1e-3, "Bernoulli at the nozzle")
	slip := cfg.Pump.SlipShare * cfg.Pump.DisplacementM3 * cfg.Pump.RatedSpeedHz * (s.OutletGaugePa - s.InletGaugePa) / cfg.Pump.RatedOutletPa
	require.InEpsilon(t, cfg.Pump.DisplacementM3*s.SpeedHz-slip, s.PumpM3s, 1e-3, "displacement less slip")
	hydraulicW := s.PumpM3s * (s.OutletGaugePa - s.InletGaugePa)
	require.Less(t, hydraulicW, s.ShaftNm*2*math.Pi*s.SpeedHz)
	require.Less(t, s.ShaftNm*2*math.Pi*s.SpeedHz, s.ElectricW)
	require.Less(t, s.ElectricW, s.CurrentA*120, "real below apparent power")
	drop := s.CurrentA * (cfg.Circuit.BranchOhm + cfg.Circuit.CordOhm)
	require.Greater(t, s.MotorV, 120-drop, "the drop over the cord is not quite in phase")
	require.Less(t, s.MotorV, 120-0.8*drop)
}

// TestNPSHRequired: with the head that the pump requires, 3 percent of the flow
// are missing. Source: the definition of NPSH3 in ISO 9906.
func TestNPSHRequired(t *testing.T) {
	cfg := plant.Typical()
	p, s, in := work(t, cfg, nil)
	for kink := 0.95; kink < 0.999 && s.NPSHAvailableM > s.NPSHRequiredM; kink += 0.00001 {
		in.Kink = kink
		run(p, &s, &in, 0.2)
	}
	require.InDelta(t, 0.97, s.Filling, 2e-3)
}

// TestSupplyShut: the pressure stops at the vapour pressure and the flow falls
// instead. Source of the vapour pressure: IAPWS-IF97, by way of rules/water.
func TestSupplyShut(t *testing.T) {
	p, s, in := work(t, plant.Typical(), nil)
	in.TapOpen = 0
	run(p, &s, &in, 20)
	w, ok := water.Props(s.InletK, 101_325)
	require.True(t, ok)
	require.InEpsilon(t, w.SatPressurePa, s.InletGaugePa+101_325, 0.01)
	require.Less(t, s.PumpM3s, 1e-8)
	require.Greater(t, s.SpeedHz, 29.5, "the pump runs light")
	require.False(t, s.Damage.Done[plant.DryRun])
	run(p, &s, &in, 30)
	require.True(t, s.Damage.Done[plant.DryRun])
}

// TestBypassHeats compares the heating of the loop with the power over the
// heat capacity, both done by hand.
func TestBypassHeats(t *testing.T) {
	cfg := plant.Typical()
	cfg.Outlet.BypassPa = 8e6
	cfg.Pump.MetalAirWK = 0
	p, s, in := work(t, cfg, func(in *plant.Inputs) { in.TriggerOpen = false })
	require.True(t, s.Bypassing)
	require.Zero(t, s.SupplyM3s)
	from, j := s.InletK*(4186*998.2*cfg.Pump.LoopM3)+s.MetalK*cfg.Pump.MetalJK, s.ShaftNm*2*math.Pi*s.SpeedHz*60
	run(p, &s, &in, 60)
	to := s.InletK*(4186*998.2*cfg.Pump.LoopM3) + s.MetalK*cfg.Pump.MetalJK
	require.InEpsilon(t, j, to-from, 0.01, "shaft power heats water and head")
}

// TestElectricFaults: a motor at low voltage takes more current for the same
// work, a seized one its locked-rotor current until the breaker trips.
func TestElectricFaults(t *testing.T) {
	_, sound, _ := work(t, plant.Typical(), nil)
	_, low, _ := work(t, plant.Typical(), func(in *plant.Inputs) { in.LineScale = 0.88 })
	require.Greater(t, low.CurrentA, 1.05*sound.CurrentA)
	require.Less(t, low.SpeedHz, sound.SpeedHz)

	p, s, in := work(t, plant.Typical(), nil)
	in.SeizeNm = 60
	run(p, &s, &in, 2)
	require.Less(t, s.SpeedHz, 1.0)
	// Locked-rotor current is 4 to 6 times the rated one for such motors:
	// NEC table 430.7(B), code letters, from memory.
	require.Greater(t, s.CurrentA, 4*15.0)
	require.Less(t, s.CurrentA, 6*15.0)
	run(p, &s, &in, 60)
	require.True(t, s.Tripped)
	require.False(t, s.Powered)
	require.Zero(t, s.CurrentA)
}

// TestBreakerBand: carries its rating, trips at 135 percent within an hour and
// at 200 percent within 120 s, but not within the seconds of a start. Source:
// UL 489 calibration, from memory.
func TestBreakerBand(t *testing.T) {
	for _, c := range []struct {
		multiple, seconds float64
		tripped           bool
	}{{1, 3600, false}, {1.35, 3600, true}, {2, 120, true}, {2, 10, false}} {
		_, s, in := work(t, plant.Typical(), nil)
		// Another breaker, cold, takes over the steady load.
		cfg := plant.Typical()
		cfg.Circuit.BreakerA = s.CurrentA / c.multiple
		p, err := plant.New(cfg)
		require.NoError(t, err)
		s.BreakerHeat = 0
		run(p, &s, &in, c.seconds)
		require.Equal(t, c.tripped, s.Tripped, "%v s at %v times the rating", c.seconds, c.multiple)
	}
}

// TestAirLeak: under vacuum the pump loses water flow to air; under pressure
// the same leak spills.
func TestAirLeak(t *testing.T) {
	_, s, _ := work(t, plant.Typical(), func(in *plant.Inputs) { in.AirLeakM2 = 1e-6 })
	require.Greater(t, s.LeakM3s, 0.0)
	require.Zero(t, s.AirM3s)
	_, s, _ = work(t, plant.Typical(), func(in *plant.Inputs) { in.AirLeakM2, in.Kink = 1e-6, 0.985 })
	require.Less(t, s.InletGaugePa, 0.0)
	require.Greater(t, s.AirM3s, 0.0)
	require.InDelta(t, s.SupplyM3s, s.PumpM3s, 1e-7)
}

// TestOutletFaults: worn valves lose flow, a worn nozzle only pressure, a burst
// hose nearly all of it, a blocked nozzle sends the water round.
func TestOutletFaults(t *testing.T) {
	_, sound, _ := work(t, plant.Typical(), nil)
	_, valves, _ := work(t, plant.Typical(), func(in *plant.Inputs) { in.ValveWear = 0.2 })
	require.Less(t, valves.PumpM3s, 0.9*sound.PumpM3s)
	_, nozzle, _ := work(t, plant.Typical(), func(in *plant.Inputs) { in.NozzleScale = 1.3 })
	require.Less(t, nozzle.OutletGaugePa, 0.75*sound.OutletGaugePa)
	require.InEpsilon(t, sound.PumpM3s, nozzle.PumpM3s, 0.04)
	_, burst, _ := work(t, plant.Typical(), func(in *plant.Inputs) { in.BurstM2 = 2e-5 })
	require.Less(t, burst.OutletGaugePa, 0.01*sound.OutletGaugePa)
	_, blocked, _ := work(t, plant.Typical(), func(in *plant.Inputs) { in.NozzleScale = 0 })
	require.True(t, blocked.Bypassing)
	require.InDelta(t, 9.25e6, blocked.OutletGaugePa, 0.1e6)
}

// TestEngineAndTank: the other drive and the other supply.
func TestEngineAndTank(t *testing.T) {
	cfg := plant.Typical()
	cfg.Drive.Kind = plant.Engine
	cfg.Supply.TankM3, cfg.Supply.TankDepthM, cfg.Supply.TankBaseM = 0.05, 0.5, 0.5
	p, s, in := work(t, cfg, nil)
	require.Zero(t, s.CurrentA)
	require.InDelta(t, 28.8, s.SpeedHz, 0.5)
	require.Less(t, s.TankLevel, 0.95)
	run(p, &s, &in, 500)
	require.Zero(t, math.Round(1000*s.TankLevel))
	require.Less(t, s.PumpM3s, 1e-6, "an empty tank gives air")
}

func TestNewRefusesNonsense(t *testing.T) {
	cfg := plant.Typical()
	cfg.Pump.DisplacementM3 = 0
	_, err := plant.New(cfg)
	require.ErrorContains(t, err, "displacement")
	cfg = plant.Typical()
	cfg.Supply.TankM3 = 1
	_, err = plant.New(cfg)
	require.ErrorContains(t, err, "depth")
}
