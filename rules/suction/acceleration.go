package suction

// PumpKind is the number of plungers and whether they push on one side or on
// both; it sets how much the flow pulses.
type PumpKind uint8

// The kinds. The zero value is not known and has no acceleration head.
const (
	// UnknownPump is a pump whose kind was not stated.
	UnknownPump PumpKind = iota
	// SimplexSingle has one plunger, single acting.
	SimplexSingle
	// SimplexDouble has one piston, double acting.
	SimplexDouble
	// DuplexSingle has two plungers, single acting.
	DuplexSingle
	// DuplexDouble has two pistons, double acting.
	DuplexDouble
	// Triplex has three plungers, single or double acting.
	Triplex
	// Quintuplex has five plungers, single or double acting.
	Quintuplex
	// Septuplex has seven plungers, single or double acting.
	Septuplex
)

// String returns the trade's name of the kind.
func (k PumpKind) String() string {
	switch k {
	case SimplexSingle:
		return "simplex, single acting"
	case SimplexDouble:
		return "simplex, double acting"
	case DuplexSingle:
		return "duplex, single acting"
	case DuplexDouble:
		return "duplex, double acting"
	case Triplex:
		return "triplex"
	case Quintuplex:
		return "quintuplex"
	case Septuplex:
		return "septuplex"
	}
	return "unknown"
}

// AccelerationC returns the constant C of the acceleration head for a kind of
// pump, for speeds in rev/min. An unknown kind gives ok=false. Source:
// Hydraulic Institute and API 674 as a public program that names both gives
// it; the standards were not at hand.
func AccelerationC(k PumpKind) (c float64, ok bool) {
	switch k {
	case SimplexSingle:
		return 0.400, true
	case SimplexDouble, DuplexSingle:
		return 0.200, true
	case DuplexDouble:
		return 0.115, true
	case Triplex:
		return 0.066, true
	case Quintuplex:
		return 0.040, true
	case Septuplex:
		return 0.028, true
	}
	return 0, false
}

// The liquid's factor K of the acceleration head. Sources differ (one public
// program takes 2.0 for liquids at large), so it stays a setting; the smaller
// K gives the larger head and is the careful choice. Source: Hydraulic
// Institute, quoted from memory.
const (
	// KDeaeratedWater is for liquid that gives nearly not, such as deaerated
	// water.
	KDeaeratedWater = 1.4
	// KWater is for water and glycol.
	KWater = 1.5
)

const (
	// RigidLineMaxM is the longest line, in m, to which the acceleration head
	// applies as a value: beyond, the column no longer starts and stops as one
	// body. Source: a public page (under 15 m or 50 ft).
	RigidLineMaxM = 15.0

	minLiquidK, maxLiquidK = 1.0, 3.0
	maxLineM               = 1000.0
	maxSpeedHz             = 200.0
)

// Line is the inlet line as the pump's pulse meets it, from the pump back to
// the first free surface, tank or working pulsation dampener. A hose that gives
// is a dampener of a kind: the rigid fittings before it give the least head
// that the pulse can take, the whole length the most.
type Line struct {
	// LengthM is the length in m, 0 to 1000, and VelocityMS the mean velocity
	// in it in m/s, 0 to 100.
	LengthM, VelocityMS float64
	// SpeedHz is the pump's crankshaft speed in rev/s, 0 to 200.
	SpeedHz float64
	// Pump is the kind of pump.
	Pump PumpKind
	// LiquidK is the liquid's factor K, 1 to 3; see KWater.
	LiquidK float64
	// Elastic says that the line is a hose that gives, not a rigid pipe.
	Elastic bool
}

// Acceleration is the head that the pulse of a reciprocating pump takes.
type Acceleration struct {
	// HeadM is the head in m.
	HeadM float64
	// UpperBound says that the line is elastic or longer than RigidLineMaxM:
	// the true head is lower, by how much is not known.
	UpperBound bool
}

// Accelerate returns the acceleration head, ha = L V N C / (K g), with N in
// rev/min. Range: the line's fields in their ranges and a known pump; otherwise
// ok is false. It comes from the theory of a rigid column; where the line is
// not short and rigid the answer is flagged as an upper bound. Source:
// Hydraulic Institute, as the GPSA Engineering Data Book's example uses it.
func Accelerate(l Line) (a Acceleration, ok bool) {
	c, ok := AccelerationC(l.Pump)
	if !ok || !between(l.LengthM, 0, maxLineM) || !between(l.VelocityMS, 0, maxVelocity) ||
		!between(l.SpeedHz, 0, maxSpeedHz) || !between(l.LiquidK, minLiquidK, maxLiquidK) {
		return Acceleration{}, false
	}
	const perMinute = 60
	a.HeadM = l.LengthM * l.VelocityMS * (l.SpeedHz * perMinute) * c / (l.LiquidK * GravityMS2)
	a.UpperBound = l.Elastic || l.LengthM > RigidLineMaxM
	return a, true
}
