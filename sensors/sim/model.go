package sim

import (
	"time"

	"headroom/rules/frame"
	"headroom/sensors/plant"
)

// model is how one channel's sensor sees the machine. All figures are common
// practice, no source, unless the comment names one.
type model struct {
	period time.Duration
	// latency is how long after the measurement the value can be had.
	latency time.Duration
	// lagS is the sensor's own first-order delay.
	lagS float64
	// noise is the standard deviation, SI; rough is more of it as a share of
	// the value.
	noise, rough float64
	// quantum is the step of the converter, SI; lo and hi its range.
	quantum, lo, hi float64
}

// counts is what a 16 bit converter makes of 4 to 20 mA: four fifths of its
// positive range.
const counts = 26_214.0

// models is constant data.
var models = [frame.NumChannels]model{
	frame.InletPressure:  {period: 20 * time.Millisecond, lagS: 0.02, noise: 300, quantum: 1e6 / counts, lo: -100e3, hi: 900e3},
	frame.WaterTemp:      {period: time.Second, latency: time.Second, lagS: 4, noise: 0.03, quantum: 1.0 / 16, lo: 218.15, hi: 398.15},
	frame.Flow:           {period: 250 * time.Millisecond, rough: 0.004, hi: 0.002},
	frame.MotorCurrent:   {period: 100 * time.Millisecond, lagS: 0.1, noise: 0.03, rough: 0.003, quantum: 100 / counts, hi: 100},
	frame.OutletPressure: {period: 20 * time.Millisecond, lagS: 0.02, noise: 4e3, rough: 0.002, quantum: 25e6 / counts, hi: 25e6},
	frame.ShaftSpeed:     {period: 100 * time.Millisecond, rough: 0.001, quantum: 1e-3, hi: 200},
	frame.SupplyVoltage:  {period: 100 * time.Millisecond, lagS: 0.05, noise: 0.02, rough: 0.001, quantum: 300 / counts, hi: 300},
	frame.Vibration:      {period: 250 * time.Millisecond, noise: 0.02, rough: 0.05, quantum: 0.001, hi: 300},
	frame.Vibration2:     {period: 250 * time.Millisecond, noise: 0.02, rough: 0.05, quantum: 0.001, hi: 300},
	frame.InletPulsation: {period: 250 * time.Millisecond, noise: 30, rough: 0.05, quantum: 5, hi: 500e3},
	frame.AmbientTemp:    {period: time.Second, latency: time.Second, lagS: 30, noise: 0.02, quantum: 1.0 / 16, lo: 218.15, hi: 398.15},
	frame.TankLevel:      {period: time.Second, lagS: 2, noise: 0.002, quantum: 1 / counts, hi: 1.05},
	frame.MotorTemp:      {period: time.Second, latency: time.Second, lagS: 60, noise: 0.05, quantum: 1.0 / 16, lo: 218.15, hi: 498.15},
	frame.AirPressure:    {period: time.Second, noise: 3, quantum: 1, lo: 30e3, hi: 110e3},
	frame.Running:        {period: 50 * time.Millisecond, hi: 1},
	frame.Trigger:        {period: 50 * time.Millisecond, hi: 1},
	frame.PowerPresent:   {period: 50 * time.Millisecond, hi: 1},
}

// truth is what a perfect sensor would read.
func truth(c frame.Channel, p *plant.Plant, s *plant.State, in *plant.Inputs) float64 {
	switch c {
	case frame.InletPressure:
		return s.InletGaugePa
	case frame.WaterTemp:
		return s.InletK
	case frame.Flow:
		return s.SupplyM3s
	case frame.MotorCurrent:
		return s.CurrentA
	case frame.OutletPressure:
		return s.OutletGaugePa
	case frame.ShaftSpeed:
		return s.PumpHz
	case frame.SupplyVoltage:
		return s.MotorV
	case frame.Vibration:
		return vibration(p, s, in)
	case frame.Vibration2:
		return 0.6 * vibration(p, s, in)
	case frame.InletPulsation:
		return pulsation(p, s)
	case frame.AmbientTemp:
		return in.AmbientK
	case frame.TankLevel:
		return s.TankLevel
	case frame.MotorTemp:
		return s.WindingK
	case frame.AirPressure:
		return p.Config().AirAbsPa
	}
	return digital(c, s, in)
}

func digital(c frame.Channel, s *plant.State, in *plant.Inputs) float64 {
	on := false
	switch c {
	case frame.Running:
		on = in.SwitchOn
	case frame.Trigger:
		on = in.TriggerOpen
	case frame.PowerPresent:
		on = s.Powered
	}
	if on {
		return 1
	}
	return 0
}

// vibration of the pump body: it grows with speed, much with collapsing vapour,
// some with air and with a bearing that binds. Invented figures.
func vibration(p *plant.Plant, s *plant.State, in *plant.Inputs) float64 {
	n := s.SpeedHz / p.Config().Pump.RatedSpeedHz
	return n * (3.5*n + 40*collapse(s.Filling) + 10*s.AirShare + 0.5*in.SeizeNm)
}

// pulsation of the inlet pressure: the strokes' own, and that of vapour which
// forms and collapses. Invented figures.
func pulsation(p *plant.Plant, s *plant.State) float64 {
	c := p.Config()
	n := s.SpeedHz / c.Pump.RatedSpeedHz
	return n * (3e3*s.PumpM3s/c.Pump.RatedFlowM3s + 25e3*collapse(s.Filling))
}

// collapse says how violent the vapour is: most where half of the cylinder
// fills; an empty one is quiet.
func collapse(filling float64) float64 { return 4 * filling * (1 - filling) }
