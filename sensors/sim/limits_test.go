package sim_test

import (
	"time"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// limits are the defaults of the daemon's config, written out here so that the
// scenarios are judged by numbers that stand beside them.
func limits() (engine.Config, [frame.NumChannels]time.Duration) {
	const ratedM3s, ratedPa, circuitA = 7.6e-3 / 60, 9e6, 20.0
	two := func(warn, act, span, deadband float64, warnOn, actOn, off time.Duration) engine.Limit {
		return engine.Limit{
			On: true, Warn: warn, Act: act, HasWarn: true, HasAct: true, WarnLevel: engine.Warning, ActLevel: engine.Act,
			Span: span, Deadband: deadband, WarnOn: warnOn, ActOn: actOn, Off: off,
		}
	}
	s := time.Second
	cfg := engine.Config{
		MaxGap: 3 * s, SensorOn: s, SensorOff: 2 * s,
		States: machine.Config{StartTime: 2 * s, StopTime: 2 * s, BypassAfter: s},
		Machine: engine.Machine{
			DisplacementM3: ratedM3s / 28.75 / 0.95, RatedFlowM3s: ratedM3s, RatedSpeedHz: 28.75, VolumetricEff: 0.95,
			RatedOutletPa: ratedPa, CircuitA: circuitA, AssumedNPSHRM: 2.5, InletBoreM: 0.019,
			RunCurrentA: 0.25 * 15, RunSpeedHz: 0.25 * 28.75, FlowOnM3s: 0.08 * ratedM3s, FedInletPa: 10e3,
		},
	}
	cfg.Rules = [engine.NumRules]engine.Limit{
		engine.InletLow:    two(70e3, 20e3, 200e3, 5e3, s, s, 2*s),
		engine.InletHigh:   two(620e3, 690e3, 400e3, 10e3, s, s, s),
		engine.WaterHot:    two(325.15, 333.15, 40, 1, 3*s, 3*s, 3*s),
		engine.NPSHMargin:  two(2, 0.5, 8, 0.3, s, s, s),
		engine.FlowShort:   two(0.9, 0.75, 0.25, 0.03, 2*s, 2*s, 2*s),
		engine.CircuitLoad: two(0.8*circuitA, circuitA, 10, 0.3, 10*s, 3*s, 3*s),
		engine.NoFlow: {
			On: true, Act: 0.08 * ratedM3s, HasAct: true, ActLevel: engine.Act,
			Span: 0.5 * ratedM3s, Deadband: 0.02 * ratedM3s, ActOn: s, Off: s,
		},
		engine.Bypass:     two(60, 180, 180, 0, 0, 0, 0),
		engine.TankLow:    two(0.25, 0.1, 0.5, 0.02, 5*s, 5*s, 5*s),
		engine.OutletHigh: two(1.05*ratedPa, 1.15*ratedPa, 0.3*ratedPa, 0.02*ratedPa, s, s, s),
	}
	var stale [frame.NumChannels]time.Duration
	for c := range frame.NumChannels {
		lo, hi := c.Believable()
		cfg.Signals[c] = engine.Signal{Fitted: true, Min: lo, Max: hi}
		stale[c] = 2 * s
	}
	for c, in := range map[frame.Channel]struct {
		smoothS      float64
		stuck, stale time.Duration
	}{
		frame.InletPressure:  {0.2, 30 * s, 2 * s},
		frame.WaterTemp:      {0, 0, 10 * s},
		frame.Flow:           {0.5, 0, 3 * s},
		frame.MotorCurrent:   {0.3, 30 * s, 2 * s},
		frame.OutletPressure: {0.2, 30 * s, 2 * s},
		frame.ShaftSpeed:     {0.3, 0, 2 * s},
		frame.SupplyVoltage:  {0.3, 60 * s, 2 * s},
		frame.Vibration:      {0.5, 30 * s, 2 * s},
		frame.InletPulsation: {0.5, 30 * s, 2 * s},
		frame.AmbientTemp:    {0, 0, 10 * s},
		frame.TankLevel:      {2, 0, 5 * s},
	} {
		cfg.Signals[c].SmoothS, cfg.Signals[c].StuckAfter, stale[c] = in.smoothS, in.stuck, in.stale
	}
	return cfg, stale
}
