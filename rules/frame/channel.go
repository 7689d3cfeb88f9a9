package frame

import "headroom/rules/units"

// Channel is one measured input of the machine. The numbers are stable: they
// stand in recordings, so a new channel is added before NumChannels and none
// is ever renumbered.
type Channel uint8

// The channels, with their SI unit inside the program.
const (
	// InletPressure at the pump inlet, Pa gauge; negative below air pressure.
	InletPressure Channel = iota
	// WaterTemp of the water at the pump inlet, K.
	WaterTemp
	// Flow drawn from the supply, m3/s.
	Flow
	// MotorCurrent, A true RMS.
	MotorCurrent
	// OutletPressure at the pump outlet, after the unloader, Pa gauge.
	OutletPressure
	// ShaftSpeed of the pump, revolutions per second.
	ShaftSpeed
	// SupplyVoltage at the machine's end of the cord, V RMS.
	SupplyVoltage
	// Vibration of the pump, acceleration RMS, m/s2.
	Vibration
	// Vibration2 is a second place of measurement, acceleration RMS, m/s2.
	Vibration2
	// InletPulsation is the RMS of the inlet pressure's fast part, Pa.
	InletPulsation
	// AmbientTemp of the air at the machine, K.
	AmbientTemp
	// TankLevel of the supply tank, share of full, 0 to 1.
	TankLevel
	// MotorTemp of the motor's body, K.
	MotorTemp
	// AirPressure from a barometer, Pa absolute.
	AirPressure
	// Running is a digital input: 1 while the motor or engine is switched on.
	Running
	// Trigger is a digital input: 1 while foot pedal or trigger is open.
	Trigger
	// PowerPresent is a digital input: 1 while the supply (after the GFCI) is
	// live.
	PowerPresent

	// NumChannels is the number of channels.
	NumChannels
)

type channelInfo struct {
	name, label, place string
	quantity           units.Quantity
	digital            bool
	min, max           float64
}

// info is constant data: names for files and metrics, labels for people, and
// the widest band that physics or the trade allows for a believable reading.
var info = [NumChannels]channelInfo{
	InletPressure:  {"inlet_pressure", "Inlet pressure", "pump inlet, gauge", units.Pressure, false, -101_325, 2_000_000},
	WaterTemp:      {"water_temp", "Water temperature", "pump inlet", units.Temperature, false, 253.15, 393.15},
	Flow:           {"flow", "Flow", "supply line", units.FlowRate, false, 0, 0.02},
	MotorCurrent:   {"motor_current", "Motor current", "supply conductor, RMS", units.Current, false, 0, 1_000},
	OutletPressure: {"outlet_pressure", "Outlet pressure", "after the unloader, gauge", units.Pressure, false, -101_325, 60_000_000},
	ShaftSpeed:     {"shaft_speed", "Shaft speed", "pump shaft", units.Speed, false, 0, 200},
	SupplyVoltage:  {"supply_voltage", "Supply voltage", "machine's end of the cord, RMS", units.Voltage, false, 0, 1_000},
	Vibration:      {"vibration", "Vibration", "pump body, RMS", units.Acceleration, false, 0, 2_000},
	Vibration2:     {"vibration_2", "Vibration, second place", "pump body, RMS", units.Acceleration, false, 0, 2_000},
	InletPulsation: {"inlet_pulsation", "Inlet pulsation", "pump inlet, RMS", units.Pressure, false, 0, 1_000_000},
	AmbientTemp:    {"ambient_temp", "Air temperature", "at the machine", units.Temperature, false, 213.15, 358.15},
	TankLevel:      {"tank_level", "Tank level", "supply tank", units.Fraction, false, 0, 1.05},
	MotorTemp:      {"motor_temp", "Motor temperature", "motor body", units.Temperature, false, 213.15, 523.15},
	AirPressure:    {"air_pressure", "Air pressure", "barometer, absolute", units.Pressure, false, 30_000, 110_000},
	Running:        {"running", "Running", "digital input", units.Switch, true, 0, 1},
	Trigger:        {"trigger", "Trigger or foot pedal", "digital input", units.Switch, true, 0, 1},
	PowerPresent:   {"power_present", "Power present", "digital input, after the GFCI", units.Switch, true, 0, 1},
}

// String returns the channel's name as it stands in config files, recordings
// and metrics, for example "inlet_pressure". Beyond NumChannels it is
// "unknown_channel".
func (c Channel) String() string {
	if c >= NumChannels {
		return "unknown_channel"
	}
	return info[c].name
}

// Label returns the channel's name for people.
func (c Channel) Label() string {
	if c >= NumChannels {
		return "Unknown channel"
	}
	return info[c].label
}

// Place tells where the sensor sits and against what it reads.
func (c Channel) Place() string {
	if c >= NumChannels {
		return ""
	}
	return info[c].place
}

// Quantity returns what the channel measures.
func (c Channel) Quantity() units.Quantity {
	if c >= NumChannels {
		return units.None
	}
	return info[c].quantity
}

// Digital reports whether the channel is an on/off input, with values 0 and 1.
func (c Channel) Digital() bool { return c < NumChannels && info[c].digital }

// Believable returns the widest band of values, in SI, that a working sensor
// can give; a config may narrow it. Source: absolute zero of gauge pressure
// (minus one standard atmosphere); the rest common practice, no source.
func (c Channel) Believable() (lo, hi float64) {
	if c >= NumChannels {
		return 0, 0
	}
	return info[c].min, info[c].max
}

// ByName returns the channel with that name; ok is false when there is none.
func ByName(name string) (c Channel, ok bool) {
	for i := range info {
		if info[i].name == name {
			return Channel(i), true
		}
	}
	return NumChannels, false
}
