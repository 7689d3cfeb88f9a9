package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/circuit/breaker"
	"headroom/rules/circuit/motor"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/suction"
	"headroom/rules/wear"
)

const tick = 100 * time.Millisecond

// fixture is an invented small electric jetter: 7.6 L/min at 1725 rpm and
// 9 MPa on a 20 A circuit.
func fixture() engine.Config {
	cfg := engine.Config{
		MaxGap: 3 * time.Second, SensorOn: time.Second, SensorOff: 2 * time.Second,
		States: machine.Config{StartTime: 2 * time.Second, StopTime: 2 * time.Second, BypassAfter: time.Second},
		Machine: engine.Machine{
			DisplacementM3: 4.64e-6, RatedFlowM3s: 7.6e-3 / 60, RatedSpeedHz: 28.75, VolumetricEff: 0.95,
			RatedOutletPa: 9e6, CircuitA: 20, AssumedNPSHRM: 2.5, InletBoreM: 0.019,
			RunCurrentA: 4, RunSpeedHz: 7, FlowOnM3s: 1e-5, FedInletPa: 10e3,
		},
	}
	for c := range frame.NumChannels {
		lo, hi := c.Believable()
		cfg.Signals[c] = engine.Signal{Fitted: c != frame.TankLevel && c != frame.AirPressure, Min: lo, Max: hi}
	}
	two := func(warn, act, span, deadband float64, delay time.Duration) engine.Limit {
		return engine.Limit{
			On: true, Warn: warn, Act: act, HasWarn: true, HasAct: true, WarnLevel: engine.Warning, ActLevel: engine.Act,
			Span: span, Deadband: deadband, WarnOn: delay, ActOn: delay, Off: 2 * time.Second,
		}
	}
	cfg.Rules = [engine.NumRules]engine.Limit{
		engine.InletLow:    two(70e3, 20e3, 200e3, 5e3, time.Second),
		engine.InletHigh:   two(620e3, 690e3, 400e3, 10e3, time.Second),
		engine.WaterHot:    two(325.15, 333.15, 40, 1, 3*time.Second),
		engine.NPSHMargin:  two(2, 0.5, 8, 0.3, time.Second),
		engine.FlowShort:   two(0.9, 0.75, 0.25, 0.03, 2*time.Second),
		engine.CircuitLoad: two(16, 20, 10, 0.3, 3*time.Second),
		engine.NoFlow:      {On: true, Act: 1e-5, HasAct: true, ActLevel: engine.Act, Span: 1e-4, Deadband: 1e-6, ActOn: time.Second, Off: time.Second},
		engine.Bypass:      two(60, 180, 180, 0, 0),
		engine.TankLow:     two(0.25, 0.1, 0.75, 0.02, 5*time.Second),
		engine.OutletHigh:  two(9.45e6, 10.35e6, 2e6, 0.1e6, time.Second),
		engine.Departure:   {},

		engine.Cavitation:   two(3, 4, 3, 0.5, 2*time.Second),
		engine.BreakerTime:  two(300, 60, 600, 5, time.Second),
		engine.MotorHeat:    two(0.85, 1, 0.5, 0.02, time.Second),
		engine.MotorVoltage: two(111, 108, 12, 1, 2*time.Second),
		engine.StartJam:     two(2.5, 3, 3, 0, 0),
		engine.PowerLost:    {On: true, Act: 1, HasAct: true, ActLevel: engine.Act, Span: 1, ActOn: time.Second, Off: time.Second},
		engine.Discharge:    two(0.15, 1, 1, 0.02, 2*time.Second),
		engine.Frost:        two(7200, 1800, 14400, 600, 10*time.Second),
		engine.Wear:         two(0.95, 0.9, 0.1, 0.01, 60*time.Second),
	}
	cfg.Plant = plant()
	return cfg
}

// plant is what stands around the fixture's pump. The nozzle's factor is what
// brings 7.6 L/min to 9 MPa without a hose.
func plant() engine.Plant {
	p := engine.Plant{
		Breaker:  breaker.Config{Standard: breaker.UL489, RatingA: 20},
		Overload: motor.OverloadConfig{RatedA: 15, K: 1.15, TauS: 400},
		Start:    motor.DefaultStart(15),
		RatedA:   15, NoLoadA: 6, RatedV: 120,
		NozzleFactor: 7.6e-3 / 60 / 3000,
		PumpKind:     suction.Triplex, InletLineM: 0.2, LiquidK: 1.4,
	}
	p.Baseline.Tol = wear.DefaultTolerance()
	p.Baseline.Add(wear.Point{SpeedHz: 28.75, DropPa: 9e6, TempK: 288.15, Efficiency: 0.95})
	return p
}

// healthy is the machine at work with nothing wrong.
func healthy() frame.Frame {
	var f frame.Frame
	f.Set(frame.InletPressure, 250e3)
	f.Set(frame.WaterTemp, 288.15)
	f.Set(frame.Flow, 7.6e-3/60)
	f.Set(frame.MotorCurrent, 14)
	f.Set(frame.OutletPressure, 9e6)
	f.Set(frame.ShaftSpeed, 28.75)
	f.Set(frame.SupplyVoltage, 118)
	f.Set(frame.Vibration, 4)
	f.Set(frame.Vibration2, 4)
	f.Set(frame.InletPulsation, 5e3)
	f.Set(frame.AmbientTemp, 293.15)
	f.Set(frame.MotorTemp, 330)
	f.Set(frame.Running, 1)
	f.Set(frame.Trigger, 1)
	f.Set(frame.PowerPresent, 1)
	return f
}

// stopped is the machine at rest with the tap on.
func stopped() frame.Frame {
	f := healthy()
	f.Set(frame.InletPressure, 290e3)
	for _, c := range []frame.Channel{frame.Flow, frame.MotorCurrent, frame.OutletPressure, frame.ShaftSpeed, frame.Vibration, frame.Vibration2, frame.InletPulsation, frame.Running, frame.Trigger} {
		f.Set(c, 0)
	}
	return f
}

// rig drives an engine at ten frames a second.
type rig struct {
	t   testing.TB
	e   *engine.Engine
	s   engine.State
	now time.Duration
	log []engine.Transition
}

func newRig(t testing.TB, cfg engine.Config) *rig {
	e, err := engine.New(cfg)
	require.NoError(t, err)
	return &rig{t: t, e: e}
}

// feed steps the frame for d and returns the last verdicts.
func (r *rig) feed(f frame.Frame, d time.Duration) *engine.Verdicts {
	var v *engine.Verdicts
	for end := r.now + d; r.now < end; {
		r.now += tick
		v = r.e.Step(&r.s, &f, r.now)
		r.log = append(r.log, v.Transitions()...)
	}
	return v
}

// running brings the machine from rest to steady work.
func (r *rig) running() *engine.Verdicts {
	r.feed(stopped(), 3*time.Second)
	return r.feed(healthy(), 10*time.Second)
}
