package bench

import (
	"fmt"

	"headroom/rules/frame"
	"headroom/rules/units"
)

// Figure is one result of a test.
type Figure uint8

// The figures.
const (
	// FlowAtPlate is what the pump draws at plate pressure and plate speed, by
	// the line through the load points.
	FlowAtPlate Figure = iota
	// VolumetricEff is volumetric efficiency at plate pressure, by that line.
	VolumetricEff
	// FlowLost is the flow lost from no pressure to plate pressure, at plate
	// speed.
	FlowLost
	// SpeedAtPlate is the pump's shaft speed at the point nearest to plate
	// pressure.
	SpeedAtPlate
	// HydraulicPower is flow times pressure rise there.
	HydraulicPower
	// InputPower is the electric power there.
	InputPower
	// OverallEff is HydraulicPower over InputPower.
	OverallEff
	// CurrentAtPlate is the motor current at plate pressure, by the line
	// through all points of current against pressure.
	CurrentAtPlate
	// NoLoadCurrent is that line's value at no pressure.
	NoLoadCurrent
	// CurrentSlope is that line's slope, A/Pa.
	CurrentSlope
	// NozzlePressure is the outlet pressure with the machine's own nozzle.
	NozzlePressure
	// ReliefPressure is where unloader or relief valve hold the closed outlet.
	ReliefPressure
	// LeakDown is how fast a closed, standing outlet loses pressure, as a share
	// of the pressure per minute.
	LeakDown
	// BypassRise is how fast the water warms with the outlet closed, K per
	// minute.
	BypassRise
	// NPSHRequired is the head at the inlet, over boiling, at which the
	// capacity has fallen by 3 %.
	NPSHRequired
	// PackingLeak is what was caught under the packing.
	PackingLeak

	// NumFigures is how many there are.
	NumFigures
)

type figureInfo struct {
	name, label string
	quantity    units.Quantity
	needs       []frame.Channel
	// points are the kinds of steps behind it.
	points []Kind
}

var figures = [NumFigures]figureInfo{
	FlowAtPlate:    {"flow", "Flow at plate pressure and speed", units.FlowRate, []frame.Channel{frame.Flow, frame.ShaftSpeed, frame.OutletPressure, frame.InletPressure}, []Kind{NoLoad, Load}},
	VolumetricEff:  {"volumetric_efficiency", "Volumetric efficiency at plate pressure", units.Fraction, []frame.Channel{frame.Flow, frame.ShaftSpeed, frame.OutletPressure, frame.InletPressure}, []Kind{NoLoad, Load}},
	FlowLost:       {"flow_lost", "Flow lost from no pressure to plate pressure", units.FlowRate, []frame.Channel{frame.Flow, frame.ShaftSpeed, frame.OutletPressure, frame.InletPressure}, []Kind{NoLoad, Load}},
	SpeedAtPlate:   {"speed", "Shaft speed at plate pressure", units.Speed, []frame.Channel{frame.ShaftSpeed}, []Kind{Load}},
	HydraulicPower: {"hydraulic_power", "Hydraulic power at plate pressure", units.Power, []frame.Channel{frame.Flow, frame.OutletPressure, frame.InletPressure}, []Kind{Load}},
	InputPower:     {"input_power", "Electric input power at plate pressure", units.Power, []frame.Channel{frame.MotorCurrent, frame.SupplyVoltage}, []Kind{Load}},
	OverallEff:     {"overall_efficiency", "Overall efficiency at plate pressure, electric to water", units.Fraction, []frame.Channel{frame.Flow, frame.OutletPressure, frame.InletPressure, frame.MotorCurrent, frame.SupplyVoltage}, []Kind{Load}},
	CurrentAtPlate: {"current", "Motor current at plate pressure", units.Current, []frame.Channel{frame.MotorCurrent, frame.OutletPressure}, []Kind{NoLoad, Load, Own, Unloader}},
	NoLoadCurrent:  {"no_load_current", "Motor current at no pressure", units.Current, []frame.Channel{frame.MotorCurrent, frame.OutletPressure}, []Kind{NoLoad, Load, Own, Unloader}},
	CurrentSlope:   {"current_slope", "Rise of the current with pressure", units.Current, []frame.Channel{frame.MotorCurrent, frame.OutletPressure}, []Kind{NoLoad, Load, Own, Unloader}},
	NozzlePressure: {"nozzle_pressure", "Pressure with the own nozzle", units.Pressure, []frame.Channel{frame.OutletPressure}, []Kind{Own}},
	ReliefPressure: {"relief", "Pressure held with the outlet closed", units.Pressure, []frame.Channel{frame.OutletPressure}, []Kind{Relief}},
	LeakDown:       {"leak_down", "Pressure lost in a minute, standing", units.Fraction, []frame.Channel{frame.OutletPressure}, []Kind{Leak}},
	BypassRise:     {"bypass_rise", "Water warms in the bypass, in a minute", units.TemperatureDifference, []frame.Channel{frame.WaterTemp}, []Kind{Bypass}},
	NPSHRequired:   {"npsh_required", "NPSH required, 3 % less capacity", units.Head, []frame.Channel{frame.Flow, frame.InletPressure, frame.WaterTemp, frame.ShaftSpeed, frame.OutletPressure}, []Kind{Inlet}},
	PackingLeak:    {"packing_leak", "Leak caught under the packing", units.FlowRate, nil, nil},
}

// String returns the figure's name in files.
func (f Figure) String() string {
	if f >= NumFigures {
		return "unknown_figure"
	}
	return figures[f].name
}

// Label returns the figure for people.
func (f Figure) Label() string {
	if f >= NumFigures {
		return "unknown"
	}
	return figures[f].label
}

// Quantity returns what the figure measures. CurrentSlope is told for each
// MPa or 1000 psi, written for each MPa and kept for each Pa.
func (f Figure) Quantity() units.Quantity {
	if f >= NumFigures {
		return units.None
	}
	return figures[f].quantity
}

// Needs lists the channels behind the figure.
func (f Figure) Needs() []frame.Channel {
	if f >= NumFigures {
		return nil
	}
	return figures[f].needs
}

// perPa is what a written value of the figure is divided by inside.
func (f Figure) perPa() float64 {
	if f == CurrentSlope {
		return 1e6
	}
	return 1
}

// FigureByName returns the figure with that name; ok is false for none.
func FigureByName(name string) (f Figure, ok bool) {
	for i := range figures {
		if figures[i].name == name {
			return Figure(i), true
		}
	}
	return NumFigures, false
}

// MarshalText writes the figure's name.
func (f Figure) MarshalText() ([]byte, error) { return []byte(f.String()), nil }

// UnmarshalText reads a figure's name.
func (f *Figure) UnmarshalText(text []byte) error {
	got, ok := FigureByName(string(text))
	if !ok {
		return fmt.Errorf("there is no figure %q", text)
	}
	*f = got
	return nil
}
