package scenario

import (
	"fmt"

	"headroom/rules/units"
	"headroom/sensors/plant"
)

// machine holds the ways in which a scenario's machine and site differ from
// the typical invented one. What isn't given stays as that is.
type machine struct {
	SupplyPressure measure[pressure]    `toml:"supply_pressure"`
	HousePipeLoss  measure[pressure]    `toml:"house_pipe_loss"`
	HoseLength     measure[length]      `toml:"supply_hose_length"`
	HoseBore       measure[bore]        `toml:"supply_hose_bore"`
	SupplyTemp     measure[temperature] `toml:"supply_temp"`
	AirTemp        measure[temperature] `toml:"air_temp"`
	Altitude       measure[length]      `toml:"altitude"`
	Tank           measure[volume]      `toml:"tank"`
	TankDepth      measure[length]      `toml:"tank_depth"`
	TankBase       measure[length]      `toml:"tank_base"`
	NPSHRequired   measure[head]        `toml:"npsh_required"`
	BypassLoop     measure[volume]      `toml:"bypass_loop"`
	BypassPressure measure[pressure]    `toml:"bypass_pressure"`
	NozzleArea     measure[fraction]    `toml:"nozzle_area"`
	LineVoltage    measure[voltage]     `toml:"line_voltage"`
	CordGauge      *int                 `toml:"cord_gauge_awg"`
	CordLength     measure[length]      `toml:"cord_length"`
	Breaker        measure[current]     `toml:"breaker"`
	Engine         bool                 `toml:"engine"`
}

// kind gives a measure its quantity, and the range that makes sense, in SI.
type kind interface {
	limits() (q units.Quantity, lo, hi float64)
}

type (
	pressure    struct{}
	length      struct{}
	bore        struct{}
	temperature struct{}
	volume      struct{}
	head        struct{}
	fraction    struct{}
	voltage     struct{}
	current     struct{}
)

func (pressure) limits() (units.Quantity, float64, float64) { return units.Pressure, 0, 60e6 }
func (length) limits() (units.Quantity, float64, float64)   { return units.Length, -500, 5000 }
func (bore) limits() (units.Quantity, float64, float64)     { return units.Bore, 0.003, 0.2 }
func (temperature) limits() (units.Quantity, float64, float64) {
	return units.Temperature, 233.15, 363.15
}
func (volume) limits() (units.Quantity, float64, float64)   { return units.Volume, 1e-4, 20 }
func (head) limits() (units.Quantity, float64, float64)     { return units.Head, 0.05, 50 }
func (fraction) limits() (units.Quantity, float64, float64) { return units.Fraction, 0.01, 10 }
func (voltage) limits() (units.Quantity, float64, float64)  { return units.Voltage, 50, 500 }
func (current) limits() (units.Quantity, float64, float64)  { return units.Current, 1, 200 }

// measure is a number with its unit, in SI once read.
type measure[K kind] struct {
	si    float64
	given bool
}

// UnmarshalText reads a number with its unit.
func (m *measure[K]) UnmarshalText(text []byte) error {
	var k K
	q, lo, hi := k.limits()
	v, err := units.Parse(q, string(text))
	if err != nil {
		return err
	}
	if !(v >= lo && v <= hi) {
		return fmt.Errorf("%q lies outside %s to %s", text, units.Format(q, units.SI, lo), units.Format(q, units.SI, hi))
	}
	m.si, m.given = v, true
	return nil
}

// put stores the number where it was given.
func (m *measure[K]) put(into *float64) {
	if m.given {
		*into = m.si
	}
}

// build varies the typical machine.
func (m *machine) build() (plant.Config, plant.Inputs, error) {
	c, in := plant.Typical(), plant.Idle()
	m.SupplyPressure.put(&c.Supply.StaticGaugePa)
	m.HousePipeLoss.put(&c.Supply.HousePipeLossPa)
	m.HoseLength.put(&c.Supply.HoseLengthM)
	m.HoseBore.put(&c.Supply.HoseBoreM)
	m.SupplyTemp.put(&in.SupplyTempK)
	m.AirTemp.put(&in.AmbientK)
	if in.SupplyTempK < 273.15 {
		return c, in, fmt.Errorf("supply_temp is below 0 °C: ice does not flow")
	}
	m.Tank.put(&c.Supply.TankM3)
	m.TankDepth.put(&c.Supply.TankDepthM)
	m.TankBase.put(&c.Supply.TankBaseM)
	m.NPSHRequired.put(&c.Pump.NPSHRequiredM)
	m.BypassLoop.put(&c.Pump.LoopM3)
	m.BypassPressure.put(&c.Outlet.BypassPa)
	m.LineVoltage.put(&c.Circuit.LineV)
	m.Breaker.put(&c.Circuit.BreakerA)
	if m.NozzleArea.given {
		c.Outlet.NozzleAreaM2 *= m.NozzleArea.si
	}
	if m.Engine {
		c.Drive.Kind = plant.Engine
	}
	if m.Altitude.given {
		pa, ok := plant.AirAbsPa(m.Altitude.si)
		if !ok {
			return c, in, fmt.Errorf("the altitude lies outside -500 m to 5000 m")
		}
		c.AirAbsPa = pa
	}
	return c, in, m.cord(&c)
}

// cord sets the cord's resistance; 12 AWG and 15.24 m (50 ft) where only one
// of the two is given.
func (m *machine) cord(c *plant.Config) error {
	gauge, lengthM := 12, 15.24
	if m.CordGauge != nil {
		gauge = *m.CordGauge
	}
	m.CordLength.put(&lengthM)
	ohm, ok := plant.CordOhm(gauge, lengthM)
	if !ok {
		return fmt.Errorf("no cord of %d AWG and %g m: give a gauge of 0 to 20 and a length of 0 to 1000 m", gauge, lengthM)
	}
	c.Circuit.CordOhm = ohm
	return nil
}
