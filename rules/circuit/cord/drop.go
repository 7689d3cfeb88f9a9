package cord

// The ranges of the package.
const (
	// MinTempK and MaxTempK bound the conductor's temperature: -40 to 105 C,
	// what flexible cord is made for.
	MinTempK = zeroCK - 40
	MaxTempK = zeroCK + 105
	// MaxLengthM is the longest cord, one way.
	MaxLengthM = 1000.0
	// MinSupplyV and MaxSupplyV bound the voltage at the cord's source.
	MinSupplyV = 50.0
	MaxSupplyV = 500.0
	// MaxCurrentA is the largest current, above any locked rotor on a cord.
	MaxCurrentA = 2000.0
)

// The shares of the supply voltage that NFPA 70 recommends not to exceed:
// BranchShare on the branch circuit, TotalShare from the service to the
// farthest outlet. It is advice and no rule.
// Source: NFPA 70 (NEC) 210.19(A), informational note.
const (
	BranchShare = 0.03
	TotalShare  = 0.05
)

// alpha75 is copper's temperature coefficient at 75 C in 1/K.
// Source: NFPA 70 (NEC) chapter 9 table 8, note 2 (from memory).
const alpha75 = 0.00323

// inferredZeroC is the temperature in C, without its sign, at which copper's
// resistance extrapolates to zero: R = R20 (234.5 + t)/(234.5 + 20).
// Source: IEC 60228, temperature correction (from memory).
const inferredZeroC = 234.5

// WorkingTempK is the conductor temperature in kelvin that a cord in use is
// taken to have where nobody knows it, 75 C: the table's own and the cautious
// choice at full load, since a warmer cord loses more. Source: NFPA 70 (NEC)
// chapter 9 table 8.
const WorkingTempK = 348.15

// OhmPerM returns the resistance of one conductor in ohm per metre at a
// conductor temperature in kelvin, MinTempK to MaxTempK; ok=false otherwise.
// A cord in use is warmer than the air, see WorkingTempK.
// Source: the tables of Gauge and each table's own temperature law.
func OhmPerM(g Gauge, tempK float64) (float64, bool) {
	r, ok := rowOf(g)
	if !ok || !inRange(tempK, MinTempK, MaxTempK) {
		return 0, false
	}
	if r.baseK == baseAWGK {
		return float64(r.ohmPerKM/1000) * (1 + float64(alpha75*(tempK-baseAWGK))), true
	}
	return float64(r.ohmPerKM/1000) * ((inferredZeroC + (tempK - zeroCK)) / (inferredZeroC + 20)), true
}

// LoopOhm returns the resistance in ohm of a cord, out and back, lengthM metres
// long one way. Range: lengthM 0 to MaxLengthM; ok=false otherwise. Cords one
// behind the other add up.
func LoopOhm(g Gauge, lengthM, tempK float64) (float64, bool) {
	perM, ok := OhmPerM(g, tempK)
	if !ok || !inRange(lengthM, 0, MaxLengthM) {
		return 0, false
	}
	return 2 * float64(perM*lengthM), true
}

// Status says whether a Drop can be used.
type Status uint8

// The statuses.
const (
	// StatusUnknown: an input is out of range.
	StatusUnknown Status = iota
	// StatusOK: the values hold.
	StatusOK
	// StatusShort: the loss would take half of the supply or more. The current
	// or the cord is not what it is said to be, and the values are 0.
	StatusShort
)

// String returns the status as an identifier, not as text for the user.
func (s Status) String() string {
	switch s {
	case StatusOK:
		return "ok"
	case StatusShort:
		return "short"
	}
	return "unknown"
}

// Drop is what a cord does at a current.
type Drop struct {
	Status Status
	// DropV is the loss and MotorV what is left, in volts.
	DropV, MotorV float64
	// Share is the loss as a share of the supply, 0 to 0.5.
	Share float64
	// HeatW is what the cord turns to heat, in watts.
	HeatW float64
}

// DropAt returns the loss of a loop resistance in ohm at currentA amperes RMS,
// fed with supplyV volts at its source, at power factor 1. Range: loopOhm 0 to
// 1000, supplyV MinSupplyV to MaxSupplyV, currentA 0 to MaxCurrentA. The
// current is taken as it is; a motor that sees less voltage and draws more is
// covered by measuring its current. It does not allocate.
// Source: Ohm's law.
func DropAt(loopOhm, supplyV, currentA float64) Drop {
	if !inRange(loopOhm, 0, 1000) || !inRange(supplyV, MinSupplyV, MaxSupplyV) || !inRange(currentA, 0, MaxCurrentA) {
		return Drop{}
	}
	v := float64(loopOhm * currentA)
	if v >= supplyV/2 {
		return Drop{Status: StatusShort}
	}
	return Drop{Status: StatusOK, DropV: v, MotorV: supplyV - v, Share: v / supplyV, HeatW: float64(v * currentA)}
}

// LongestM returns the longest cord in metres, one way, that loses no more than
// share of supplyV at currentA amperes. Range: share above 0 to 0.2, currentA
// 0.1 to MaxCurrentA, the rest as DropAt; a result above MaxLengthM is cut to
// it. ok=false otherwise.
// Source: DropAt solved for the length.
func LongestM(g Gauge, tempK, supplyV, currentA, share float64) (float64, bool) {
	perM, ok := OhmPerM(g, tempK)
	if !ok || !inRange(supplyV, MinSupplyV, MaxSupplyV) || !inRange(currentA, 0.1, MaxCurrentA) ||
		!(share > 0 && share <= 0.2) {
		return 0, false
	}
	return min(MaxLengthM, float64(share*supplyV)/float64(2*float64(perM*currentA))), true
}

// inRange reports lo <= x <= hi; NaN is never in range.
func inRange(x, lo, hi float64) bool { return x >= lo && x <= hi }
