package engine

import (
	"fmt"

	"headroom/rules/cavitation"
	"headroom/rules/circuit"
	"headroom/rules/circuit/breaker"
	"headroom/rules/circuit/motor"
	"headroom/rules/heat"
	"headroom/rules/nozzle"
	"headroom/rules/suction"
	"headroom/rules/wear"
)

// Plant holds the figures of what stands around the pump, each in the shape
// that its physics package asks for. A zero part is not known, and the rules
// that need it say so.
type Plant struct {
	// Breaker that the circuit hangs on; without a standard it isn't known.
	Breaker breaker.Config
	// Overload is the motor's thermal model and Start its start; without a
	// rated current they aren't known.
	Overload motor.OverloadConfig
	Start    motor.StartConfig
	// RatedA and NoLoadA are the motor's currents, RatedV its voltage.
	RatedA, NoLoadA, RatedV float64
	// CircuitV is the voltage at the outlet and CordOhm the cord's resistance
	// out and back, for the voltage at the motor where none is measured.
	CircuitV, CordOhm float64
	// NozzleFactor in m3/s per root Pa, and HoseCoefficient of the
	// high-pressure hose in Pa/(m3/s)^2.
	NozzleFactor, HoseCoefficient float64
	// PumpKind, the length of the rigid inlet line and the liquid's factor,
	// for the acceleration head.
	PumpKind    suction.PumpKind
	InletLineM  float64
	LiquidK     float64
	Cavitation  cavitation.Config
	FrostTauS   float64
	Baseline    wear.Baseline
	WearTempTol float64
}

// models are the prepared physics of a plant.
type models struct {
	breaker    breaker.Model
	hasBreaker bool
	overload   motor.Overload
	hasMotor   bool
	start      motor.Start
	hasStart   bool
	signs      cavitation.Rules
	continuous circuit.ContinuousConfig
	frost      heat.FrostLimits
}

// prepare checks the plant's parts and makes their models.
func prepare(cfg *Config) (m models, err error) {
	p := &cfg.Plant
	if p.Breaker.Standard != breaker.StandardUnknown {
		if m.breaker, err = breaker.New(p.Breaker); err != nil {
			return m, fmt.Errorf("cannot model the breaker: %w", err)
		}
		m.hasBreaker = true
		m.continuous = circuit.ContinuousConfig{RatingA: p.Breaker.RatingA, PauseS: circuit.DefaultPauseS}
	}
	if p.Overload.RatedA > 0 {
		if m.overload, err = motor.NewOverload(p.Overload); err != nil {
			return m, fmt.Errorf("cannot model the motor's heat: %w", err)
		}
		m.hasMotor = true
	}
	if p.Start.RatedA > 0 {
		if m.start, err = motor.NewStart(p.Start); err != nil {
			return m, fmt.Errorf("cannot model the motor's start: %w", err)
		}
		m.hasStart = true
	}
	if m.signs, err = signRules(p); err != nil {
		return m, fmt.Errorf("cannot use the signs of cavitation: %w", err)
	}
	m.frost = frostLimits(cfg)
	if l := &cfg.Rules[Discharge]; l.On && p.NozzleFactor > 0 && !dischargeLimits(l).Valid() {
		return m, fmt.Errorf("rule %s: nozzle and hose can't be judged with warn at %g: set 0.001 to %g", Discharge, l.Warn, nozzle.DefaultLimits().WornMost)
	}
	return m, nil
}

// signRules uses the default thresholds where the plant has none of its own.
func signRules(p *Plant) (cavitation.Rules, error) {
	c := p.Cavitation
	if c == (cavitation.Config{}) {
		c = cavitation.DefaultConfig()
	}
	return cavitation.New(c)
}

func frostLimits(cfg *Config) heat.FrostLimits {
	l := heat.DefaultFrostLimits()
	if cfg.Rules[Frost].HasAct {
		l.RiskS = cfg.Rules[Frost].Act
	}
	if cfg.Plant.FrostTauS > 0 {
		l.TauS = cfg.Plant.FrostTauS
	}
	return l
}
