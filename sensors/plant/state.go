package plant

// Inputs is all that people and faults do to the machine during a job. The
// zero value is a machine that is switched off, with the tap and the trigger
// shut, in ice water; start from Idle instead.
type Inputs struct {
	// TapOpen is the opening of the tap, 0 to 1; SecondTapOpen that of the
	// neighbour on the same pipe.
	TapOpen, SecondTapOpen float64
	// SupplyTempK at the tap; HoseSunK is what the hose wall has over the air.
	SupplyTempK, HoseSunK float64
	// Kink is the share of the hose's area that a kink takes, 0 to 1, Clog that
	// of the filter's.
	Kink, Clog float64
	// AirLeakM2 is the effective area of a leak at the inlet, which sucks air
	// under vacuum and spills water under pressure.
	AirLeakM2 float64
	// TankFillM3s is what runs into the tank.
	TankFillM3s float64
	// ValveWear is the share of the rated flow that worn valves lose at rated
	// pressure.
	ValveWear float64
	// PackingWear is the share of the rated flow that worn packing lets out to
	// the ground at rated pressure, while the pump turns.
	PackingWear float64
	// BeltSlip is the share of the drive's speed that a slipping belt loses at
	// rated torque; it grows with the torque. 0 for a direct drive.
	BeltSlip float64
	// UnloaderTurn multiplies the unloader's setting, 1 as built.
	UnloaderTurn float64
	// TriggerOpen lets water out; NozzleScale multiplies the nozzle's area (0
	// blocked, above 1 worn); NozzleOff leaves the hose end open.
	TriggerOpen, NozzleOff bool
	NozzleScale            float64
	// BurstM2 is the effective area of a hole in the outlet hose.
	BurstM2 float64
	// SwitchOn is the motor's or engine's switch; PowerCut takes the line away
	// and ResetBreaker closes a tripped breaker.
	SwitchOn, PowerCut, ResetBreaker bool
	// LineScale multiplies the line voltage, ExtraCordOhm adds to the cord.
	LineScale, ExtraCordOhm float64
	// SeizeNm is the torque of a bearing that binds.
	SeizeNm float64
	// AmbientK of the air.
	AmbientK float64
}

// Idle returns the inputs of a sound machine that nobody has touched yet, with
// supply water of 288 K (15 C) and air of 293 K (20 C).
func Idle() Inputs {
	return Inputs{SupplyTempK: 288.15, UnloaderTurn: 1, NozzleScale: 1, LineScale: 1, AmbientK: 293.15}
}

// hoseCells is how many well-mixed parts the supply hose has for the travel of
// warm water along it.
const hoseCells = 4

// State is the machine at one moment. The first part is what the next step
// starts from, the second what the last step found.
type State struct {
	TimeS   float64 // sum of the steps
	SpeedHz float64 // drive's shaft, revolutions per second
	PumpHz  float64 // pump's shaft; less where a belt slips
	// InletM3 and OutletM3 are the water beyond the nodes' volume at air
	// pressure: the springs of the two hoses.
	InletM3, OutletM3 float64
	// InletJ, OutletJ, HoseJ, MetalJ and WindingJ are heat over 273.15 K.
	InletJ, OutletJ, MetalJ, WindingJ float64
	HoseJ                             [hoseCells]float64
	TankM3, TankJ                     float64
	SecondTapM3s                      float64
	Bypassing                         bool
	BreakerHeat                       float64 // 1 = steady at the rating
	Tripped                           bool

	// InletGaugePa at the pump inlet, PumpGaugePa inside the head,
	// OutletGaugePa after the unloader, and NozzleGaugePa.
	InletGaugePa, PumpGaugePa, OutletGaugePa, NozzleGaugePa float64
	// Flows in m3/s: drawn from the supply, through the pump, back through the
	// unloader, out of the nozzle, out of a burst, past the packing, out of an
	// inlet leak, and air sucked in.
	SupplyM3s, PumpM3s, BypassM3s, NozzleM3s, BurstM3s, PackingM3s, LeakM3s, AirM3s float64
	// InletK is the water at the pump inlet, OutletK that in the outlet hose,
	// MetalK the head and WindingK the motor's winding.
	InletK, OutletK, MetalK, WindingK float64
	// NPSHAvailableM over boiling, NPSHRequiredM at this speed, and Filling,
	// the share of the cylinders that fills with water: 1 without cavitation.
	NPSHAvailableM, NPSHRequiredM, Filling float64
	// AirShare is the share of the cylinders that fills with air.
	AirShare float64
	// CurrentA and MotorV at the machine, RMS; ShaftNm and ElectricW.
	CurrentA, MotorV, ShaftNm, ElectricW float64
	// Powered is true while the line is live at the machine.
	Powered bool
	// TankLevel is the share of full; 0 without a tank.
	TankLevel float64

	Ledger Ledger
	Damage Damage
}

// Ledger adds up what went in and out since the start. Stored is computed from
// the state alone, so that In - Out - (Stored - Stored at the start) is a true
// check of the step.
type Ledger struct {
	WaterInKg, WaterOutKg, WaterStoredKg float64
	EnergyInJ, EnergyOutJ, EnergyStoredJ float64
	waterStartKg, energyStartJ           float64
}

// WaterErrorKg is the water that came from nowhere, in kg; 0 but for rounding.
func (l *Ledger) WaterErrorKg() float64 {
	return l.WaterInKg - l.WaterOutKg - (l.WaterStoredKg - l.waterStartKg)
}

// EnergyErrorJ is the energy that came from nowhere, in J; 0 but for rounding.
func (l *Ledger) EnergyErrorJ() float64 {
	return l.EnergyInJ - l.EnergyOutJ - (l.EnergyStoredJ - l.energyStartJ)
}
