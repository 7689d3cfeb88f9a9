package scenario

import (
	"math"

	"headroom/rules/units"
	"headroom/sensors/plant"
)

// FaultKind names a fault.
type FaultKind uint8

// The faults. The comment tells what Amount means.
const (
	KinkedHose    FaultKind = iota // share of the hose's area gone
	SecondTap                      // opening of the neighbour's tap
	CloggedFilter                  // share of the filter's area gone
	HotSupply                      // temperature of the supply water, K
	HotHose                        // hose wall over the air, K
	SupplyShut                     // no amount
	AirLeak                        // bore of the hole at the inlet, m
	BlockedNozzle                  // share of the nozzle's area gone
	WornNozzle                     // share by which its area has grown
	BurstHose                      // hole as a share of the outlet hose's area
	WornValves                     // share of rated flow lost at rated pressure
	UnloaderUp                     // share by which its setting is raised
	UnloaderDown                   // share by which its setting is lowered
	LowVoltage                     // line voltage, V
	PowerCut                       // no amount
	SeizedBearing                  // share of a bearing that locks
	WireOff                        // no amount; needs a channel
	SensorStuck                    // no amount; needs a channel
	SensorDrift                    // offset in the channel's unit; needs a channel
	BusOff                         // no amount; every analogue channel

	numFaults
)

// faultInfo is constant data: the name in files, the quantity of the amount
// (bare for none), and whether a channel must be named.
type faultInfo struct {
	name          string
	quantity      units.Quantity
	bare, channel bool
}

var faults = [numFaults]faultInfo{
	KinkedHose:    {name: "kinked_hose", quantity: units.Fraction},
	SecondTap:     {name: "second_tap", quantity: units.Fraction},
	CloggedFilter: {name: "clogged_filter", quantity: units.Fraction},
	HotSupply:     {name: "hot_supply", quantity: units.Temperature},
	HotHose:       {name: "hot_hose", quantity: units.TemperatureDifference},
	SupplyShut:    {name: "supply_shut", bare: true},
	AirLeak:       {name: "inlet_air_leak", quantity: units.Bore},
	BlockedNozzle: {name: "blocked_nozzle", quantity: units.Fraction},
	WornNozzle:    {name: "worn_nozzle", quantity: units.Fraction},
	BurstHose:     {name: "burst_hose", quantity: units.Fraction},
	WornValves:    {name: "worn_valves", quantity: units.Fraction},
	UnloaderUp:    {name: "unloader_up", quantity: units.Fraction},
	UnloaderDown:  {name: "unloader_down", quantity: units.Fraction},
	LowVoltage:    {name: "low_voltage", quantity: units.Voltage},
	PowerCut:      {name: "power_cut", bare: true},
	SeizedBearing: {name: "seized_bearing", quantity: units.Fraction},
	WireOff:       {name: "sensor_wire_off", bare: true, channel: true},
	SensorStuck:   {name: "sensor_stuck", bare: true, channel: true},
	SensorDrift:   {name: "sensor_drift", channel: true},
	BusOff:        {name: "sensor_bus_off", bare: true},
}

// String returns the fault's name in files.
func (k FaultKind) String() string {
	if k >= numFaults {
		return "unknown_fault"
	}
	return faults[k].name
}

// FaultByName returns the fault with that name; ok is false for none.
func FaultByName(name string) (k FaultKind, ok bool) {
	for i := range faults {
		if faults[i].name == name {
			return FaultKind(i), true
		}
	}
	return numFaults, false
}

// FaultNames lists all faults, for messages and help.
func FaultNames() []string {
	out := make([]string, numFaults)
	for i := range faults {
		out[i] = faults[i].name
	}
	return out
}

// lockNm is the torque of a bearing that locks: several times what any motor
// here can give.
const lockNm = 60.0

// holeDischarge is the discharge coefficient of a sharp-edged hole. Source:
// 0.6, any text on fluid mechanics.
const holeDischarge = 0.6

// apply sets the plant's inputs for a fault that has grown to a share of its
// amount.
func (f *Fault) apply(s *Scenario, grown float64, in *plant.Inputs) {
	a := grown * f.Amount
	switch f.Kind {
	case KinkedHose:
		in.Kink = a
	case SecondTap:
		in.SecondTapOpen = a
	case CloggedFilter:
		in.Clog = a
	case HotSupply:
		in.SupplyTempK += grown * (f.Amount - in.SupplyTempK)
	case HotHose:
		in.HoseSunK = a
	case SupplyShut:
		in.TapOpen = 0
	case AirLeak:
		in.AirLeakM2 = holeDischarge * math.Pi / 4 * a * a
	case BlockedNozzle:
		in.NozzleScale *= 1 - a
	case WornNozzle:
		in.NozzleScale *= 1 + a
	case BurstHose:
		b := s.Machine.Outlet.HoseBoreM
		in.BurstM2 = holeDischarge * math.Pi / 4 * b * b * a
	case WornValves:
		in.ValveWear = a
	case UnloaderUp:
		in.UnloaderTurn = 1 + a
	case UnloaderDown:
		in.UnloaderTurn = 1 - a
	case LowVoltage:
		in.LineScale += grown * (f.Amount/s.Machine.Circuit.LineV - in.LineScale)
	case PowerCut:
		in.PowerCut = true
	case SeizedBearing:
		in.SeizeNm = lockNm * a
	}
}
