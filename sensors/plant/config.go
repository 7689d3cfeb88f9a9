package plant

import (
	"fmt"
	"math"
)

// Config is the machine and its surroundings: all that stays the same during
// a job. Inputs holds what changes.
type Config struct {
	Supply   Supply
	Pump     Pump
	Outlet   Outlet
	Drive    Drive
	Circuit  Circuit
	AirAbsPa float64 // air pressure at the site, absolute Pa
}

// Supply is the water's way from the house or tank to the pump inlet. The
// losses are given at the pump's rated flow and grow with its square.
type Supply struct {
	StaticGaugePa   float64 // at the tap with nothing running, Pa gauge
	HousePipeLossPa float64 // in the pipe that the tap shares with its neighbour
	TapLossPa       float64 // in the tap itself, fully open
	NeighbourLossPa float64 // in the second tap and what hangs on it
	HoseLengthM     float64
	HoseBoreM       float64
	HoseBulkPa      float64 // effective stiffness of hose and water, Pa
	FilterLossPa    float64 // in the clean filter
	// TankM3 above 0 makes the supply a tank of that volume instead of the
	// tap; TankDepthM is its full depth and TankBaseM the height of its floor
	// over the pump.
	TankM3, TankDepthM, TankBaseM float64
}

// Pump is the plunger pump with its inlet chamber and bypass loop.
type Pump struct {
	DisplacementM3 float64 // per revolution
	RatedSpeedHz   float64 // revolutions per second
	RatedFlowM3s   float64
	RatedOutletPa  float64 // gauge
	// SlipShare of the displacement leaks back through the valves at rated
	// pressure.
	SlipShare float64
	// FrictionNm is the torque of bearings and packing.
	FrictionNm float64
	// NPSHRequiredM at rated speed is the head over boiling at which 3 percent
	// of the flow is lost (the definition of ISO 9906).
	NPSHRequiredM float64
	PassLossPa    float64 // through both valves at rated flow, pump standing
	LoopM3        float64 // water in inlet chamber, filter bowl and bypass loop
	MetalJK       float64 // heat capacity of the head, J/K
	MetalWaterWK  float64 // exchange between head and water, W/K
	MetalAirWK    float64 // loss of head and loop to the air, W/K
	// WaterHeatShare of the pump's losses heats the passing water, the rest
	// heats the head.
	WaterHeatShare float64
}

// Outlet is what follows the pump.
type Outlet struct {
	UnloaderSetPa  float64 // begins to pass, gauge
	UnloaderFullPa float64 // passes the whole flow, gauge
	UnloaderReseat float64 // closes again below this share of UnloaderSetPa
	// BypassPa is what the pump still works against while the outlet is
	// closed: little for an unloader that traps the pressure, nearly all of it
	// for a plain relief valve.
	BypassPa     float64
	HoseLengthM  float64
	HoseBoreM    float64
	HoseBulkPa   float64
	NozzleAreaM2 float64 // effective area of all orifices, discharge included
}

// DriveKind tells motor from engine.
type DriveKind uint8

// The drives.
const (
	Motor DriveKind = iota
	Engine
)

// Drive is what turns the pump.
type Drive struct {
	Kind       DriveKind
	InertiaKgM float64 // of drive and pump, kg m2
	// The motor's equivalent circuit per phase, in ohm, as in any text on
	// electric machines; the iron loss is a resistance across the magnetising
	// reactance.
	SyncHz                 float64 // synchronous revolutions per second
	R1, X1, R2, X2, Xm, Rc float64
	RatedA                 float64 // on the plate
	WindingJK, WindingWK   float64 // heat capacity, loss to the air
	// The engine: no-load speed, speed lost at rated torque, the largest torque.
	NoLoadHz, DroopHz, RatedNm, MaxNm float64
}

// Circuit is the electric supply.
type Circuit struct {
	LineV     float64 // at the panel, V RMS
	BranchOhm float64 // both conductors of the house wiring
	CordOhm   float64 // both conductors of the cord
	BreakerA  float64
}

// CordOhm returns the resistance in ohm of both copper conductors of a cord of
// the given gauge (AWG 0 to 20) and one-way length in m at 30 degrees C. ok is
// false outside that range. Sources: ASTM B258 for the diameter (0.127 mm x
// 92^((36-n)/39)), IEC 60028 for annealed copper (1.7241e-8 ohm m at 20 C,
// 0.00393 per K).
func CordOhm(awg int, lengthM float64) (ohm float64, ok bool) {
	if awg < 0 || awg > 20 || !(lengthM >= 0 && lengthM <= 1000) {
		return 0, false
	}
	d := 0.127e-3 * math.Pow(92, float64(36-awg)/39)
	rho := 1.7241e-8 * (1 + 0.00393*10)
	return 2 * lengthM * rho / (math.Pi / 4 * d * d), true
}

// AirAbsPa returns the air pressure in absolute Pa at an altitude in m, -500 to
// 5000. Source: ISO 2533 standard atmosphere.
func AirAbsPa(altitudeM float64) (pa float64, ok bool) {
	if !(altitudeM >= -500 && altitudeM <= 5000) {
		return 0, false
	}
	return 101_325 * math.Pow(1-0.0065*altitudeM/288.15, 5.25588), true
}

// Typical returns an invented machine: 1.5 hp motor on a 120 V, 20 A circuit
// with 50 ft of 12 AWG cord, direct drive to a triplex pump of 7.6 L/min,
// working at about 8.2 MPa (1190 psi) through 100 ft of 1/4 in hose, fed by a
// tap of 300 kPa through 50 ft of 3/4 in hose. Every figure is invented or
// common practice without a source; none is of any product.
func Typical() Config {
	cord, _ := CordOhm(12, 15.24)
	return Config{
		AirAbsPa: 101_325,
		Supply: Supply{
			StaticGaugePa: 300e3, HousePipeLossPa: 8e3, TapLossPa: 20e3, NeighbourLossPa: 20e3,
			HoseLengthM: 15.24, HoseBoreM: 0.01905, HoseBulkPa: 100e6, FilterLossPa: 10e3,
		},
		Pump: Pump{
			DisplacementM3: 4.638e-6, RatedSpeedHz: 28.75, RatedFlowM3s: 7.6e-3 / 60,
			RatedOutletPa: 9e6, SlipShare: 0.05, FrictionNm: 0.45, NPSHRequiredM: 2.5, PassLossPa: 30e3,
			LoopM3: 1e-3, MetalJK: 2500, MetalWaterWK: 60, MetalAirWK: 4, WaterHeatShare: 0.6,
		},
		Outlet: Outlet{
			UnloaderSetPa: 8.95e6, UnloaderFullPa: 9.25e6, UnloaderReseat: 0.9, BypassPa: 3.75e6,
			HoseLengthM: 30.48, HoseBoreM: 0.00635, HoseBulkPa: 300e6, NozzleAreaM2: nozzleAreaM2(4),
		},
		Drive: Drive{
			InertiaKgM: 0.015, SyncHz: 30, R1: 0.42, X1: 0.62, R2: 0.30, X2: 0.55, Xm: 19.5, Rc: 110,
			RatedA: 15, WindingJK: 2500, WindingWK: 6,
			NoLoadHz: 30, DroopHz: 1.25, RatedNm: 7, MaxNm: 14,
		},
		Circuit: Circuit{LineV: 120, BranchOhm: 0.15, CordOhm: cord, BreakerA: 20},
	}
}

// nozzleAreaM2 is the effective area of a nozzle of the trade's size, which is
// its flow in US gallons a minute at 4000 psi.
func nozzleAreaM2(size float64) float64 {
	const galMin, psi = 3.785411784e-3 / 60, 6894.757
	return size * galMin / math.Sqrt(2*4000*psi/densityKgM3)
}

// minPassPa is the least loss of the pump's valves, in Pa at rated flow: the
// springs alone need it, and with less the two nodes are one and the solver's
// going to and fro between them gets slow.
const minPassPa = 10e3

// Validate names the first figure that the model can't work with.
func (c *Config) Validate() error {
	positive := []struct {
		name  string
		value float64
	}{
		{"air pressure", c.AirAbsPa},
		{"supply hose length", c.Supply.HoseLengthM}, {"supply hose bore", c.Supply.HoseBoreM},
		{"supply hose stiffness", c.Supply.HoseBulkPa}, {"tap loss", c.Supply.TapLossPa},
		{"second tap's loss", c.Supply.NeighbourLossPa},
		{"displacement", c.Pump.DisplacementM3}, {"rated speed", c.Pump.RatedSpeedHz},
		{"rated flow", c.Pump.RatedFlowM3s}, {"rated outlet pressure", c.Pump.RatedOutletPa},
		{"NPSH required", c.Pump.NPSHRequiredM}, {"valve loss", c.Pump.PassLossPa},
		{"bypass loop volume", c.Pump.LoopM3}, {"heat capacity of the head", c.Pump.MetalJK},
		{"unloader setting", c.Outlet.UnloaderSetPa},
		{"unloader band", c.Outlet.UnloaderFullPa - c.Outlet.UnloaderSetPa},
		{"outlet hose length", c.Outlet.HoseLengthM}, {"outlet hose bore", c.Outlet.HoseBoreM},
		{"outlet hose stiffness", c.Outlet.HoseBulkPa}, {"nozzle area", c.Outlet.NozzleAreaM2},
		{"inertia", c.Drive.InertiaKgM}, {"winding's heat capacity", c.Drive.WindingJK},
		{"breaker rating", c.Circuit.BreakerA},
	}
	for _, p := range positive {
		if !(p.value > 0) || math.IsInf(p.value, 0) {
			return fmt.Errorf("the plant's %s is %v: give a number above 0", p.name, p.value)
		}
	}
	if c.Pump.PassLossPa < minPassPa {
		return fmt.Errorf("the plant's valve loss is %v Pa: give %v or more", c.Pump.PassLossPa, minPassPa)
	}
	if c.Supply.TankM3 > 0 && !(c.Supply.TankDepthM > 0) {
		return fmt.Errorf("the plant's tank has no depth: give a number above 0")
	}
	return nil
}
