package config

import (
	"crypto/sha256"
	"time"

	"headroom/rules/circuit/breaker"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/rules/wear"
)

// Config is one machine and one daemon, in SI. A figure of 0 means not known
// wherever the doc says so; no field is ever NaN or infinite.
type Config struct {
	// Base is "default" or "bare": what stood under the file's own settings.
	Base string
	// Name of the machine, for screens and reports.
	Name string
	// Drive is what turns the pump.
	Drive Drive
	// Pump is what the engine's part does not hold.
	Pump Pump
	// Motor, Circuit, Cord, the hoses and the nozzle are the plant around the
	// pump.
	Motor        Motor
	Circuit      Circuit
	Cord         Cord
	SupplyHose   Hose
	PressureHose Hose
	Nozzle       Nozzle
	// Engine is the rules' part, complete.
	Engine engine.Config
	// Stale is the age beyond which a reading no longer counts; 0 where the
	// channel isn't fitted, as sensors.NewBoard wants it.
	Stale [frame.NumChannels]time.Duration
	// Units are what people read.
	Units units.System
	// Listen is the dashboard's host and port.
	Listen string
	// Server says who may reach the dashboard, and how.
	Server Server
	// Record says where the record is kept.
	Record Record
	// Service says how often each thing is looked after.
	Service [wear.NumTasks]wear.Interval
	// Simulator stands in for the sensors when it is on.
	Simulator Simulator
	// Sensors are the parts that feed the channels on a real machine.
	Sensors Sensors
	// Outputs are what the daemon switches.
	Outputs Outputs
	// Notify says who else is told of alarms.
	Notify Notify
	// Remote says to which store the record is sent.
	Remote Remote
	// CSV maps the columns of a recording to channels.
	CSV CSVMap
	// Remarks are what was derived or assumed, in words for people.
	Remarks []string
	// Hash is the SHA-256 of the file's bytes, so that a recording can name
	// the config it was made with.
	Hash [sha256.Size]byte
}

// Drive is what turns the pump.
type Drive string

// The drives.
const (
	// Electric: a motor on a branch circuit; the circuit's rules make sense.
	Electric Drive = "electric"
	// EngineDriven: a combustion engine.
	EngineDriven Drive = "engine"
)

// Pump holds what the plate says beside the engine's own figures.
type Pump struct {
	// Type is one of the plunger arrangements of the schema, for example
	// "triplex_single_acting".
	Type string
	// DisplacementDerived is true where the displacement was not given but
	// follows from flow, speed and volumetric efficiency.
	DisplacementDerived bool
}

// Motor is the motor's plate; 0 for a figure that isn't known.
type Motor struct {
	// RatedPowerW at the shaft.
	RatedPowerW float64
	// RatedA at full load and NoLoadA with the unloader open.
	RatedA, NoLoadA float64
	// VoltageV rated.
	VoltageV float64
	// ServiceFactor is the plate's, 1 to 2.
	ServiceFactor float64
	// TripClass of the overload relay, 10, 20 or 30; 0 for none.
	TripClass int64
}

// Circuit is the branch circuit on somebody else's wall.
type Circuit struct {
	// RatingA of the breaker; also in Engine.Machine.CircuitA.
	RatingA float64
	// VoltageV nominal.
	VoltageV float64
	// Standard and curve of the breaker.
	Standard breaker.Standard
	// GFCI: the circuit, or the cord's end, has a ground fault interrupter.
	GFCI bool

	family, curve string
}

// Cord is the extension cord.
type Cord struct {
	// AreaM2 is the copper's cross-section.
	AreaM2 float64
	// LengthM one way.
	LengthM float64
}

// Hose is one hose; 0 for a figure that isn't known.
type Hose struct {
	// BoreM is the inner diameter and LengthM the length.
	BoreM, LengthM float64
}

// Nozzle is what the water leaves through. Number and BoreM exclude each
// other; 0 for the one that isn't given.
type Nozzle struct {
	// BoreM is the diameter of one orifice.
	BoreM float64
	// Number is the trade's size of the whole nozzle: its flow in US gallons a
	// minute at 4000 psi.
	Number float64
	// Orifices is how many holes of BoreM there are.
	Orifices int64
}

// Simulator says whether and what is simulated.
type Simulator struct {
	// On puts simulated readings in the sensors' place.
	On bool
	// Scenario is a file's name or "demo".
	Scenario string
	// Speed is how much faster than life it runs.
	Speed float64
	// Seed of the noise.
	Seed int64
}
