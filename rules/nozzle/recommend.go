package nozzle

// leastLeft is the share of the trade's least pump pressure that should reach
// the nozzle. The trade states pressures at the pump, and its thin hoses take
// much of it; half is judgement, no source.
const leastLeft = 0.5

// Pump is what the pump can give.
type Pump struct {
	// FlowM3s is its flow at its speed, m3/s, and RatedPa the pressure it is
	// rated for, Pa gauge.
	FlowM3s, RatedPa float64
}

// Job is the line to be cleaned and the tools' properties.
type Job struct {
	// LineM is the nominal diameter of the drain line and HoseLengthM the
	// length of jetting hose in use (on the reel too), both m.
	LineM, HoseLengthM float64
	// Cd is the discharge coefficient assumed for the jets and Holes how many
	// equal jets the head has.
	Cd    float64
	Holes int
	// DensityKgM3 is the water's density, kg/m3.
	DensityKgM3 float64
}

// Shortfall is the set of reasons why a pump doesn't suit a line.
type Shortfall uint8

// The reasons; the first two and NozzlePressureLow say that the pump is too
// small for the line with that hose.
const (
	// FlowLow: less flow than the trade uses to carry the debris of this size.
	FlowLow Shortfall = 1 << iota
	// RatedPressureLow: the pump's rated pressure is below the trade's range.
	RatedPressureLow
	// NozzlePressureLow: after the hose less than half of the least pressure
	// that the trade uses at the pump is left for the nozzle.
	NozzlePressureLow
	// HoseTakesAll: the hose alone takes the rated pressure or more; no nozzle
	// can work at this flow.
	HoseTakesAll
	// FlowHigh: more flow than the trade sends through this hose.
	FlowHigh
)

// Has tells whether all of r is in the set.
func (s Shortfall) Has(r Shortfall) bool { return s&r == r }

// Choice is one hose with the nozzle that brings the pump to its rated
// pressure through it.
type Choice struct {
	// Row is the trade's row the hose comes from.
	Row Row
	// FrictionPa is what the hose takes at the pump's flow and LeftPa what
	// remains for the nozzle at the rated pressure, Pa; 0 when HoseTakesAll.
	FrictionPa, LeftPa float64
	// FactorM3sRootPa, Number (gpm at 4000 psi), AreaM2 of all jets and
	// DiameterM of each describe the nozzle; 0 when HoseTakesAll.
	FactorM3sRootPa, Number, AreaM2, DiameterM float64
	// NozzlePowerW is the hydraulic power that arrives, W.
	NozzlePowerW float64
	// Short is empty when pump, hose and line fit.
	Short Shortfall
	// Known is false when the choice could not be computed.
	Known bool
}

// TooSmall says that the pump is too small for the line with this hose.
func (c Choice) TooSmall() bool {
	return c.Short&(FlowLow|RatedPressureLow|NozzlePressureLow|HoseTakesAll) != 0
}

// RecommendStatus says whether a recommendation could be made.
type RecommendStatus uint8

// The states. The zero value means that inputs are missing or out of range.
const (
	RecommendUnknown RecommendStatus = iota
	RecommendOK
	// LineOutOfTable: the trade table has no row for the line's size.
	LineOutOfTable
	// FrictionOutOfRange: the friction law refuses the flow in the hose.
	FrictionOutOfRange
)

// Recommendation is the hose and nozzle for a line.
type Recommendation struct {
	Status RecommendStatus
	// Usual is the hose of the line's row; Larger the next row's hose against
	// the same line's needs, for a long line, Larger.Known=false without one.
	// Whether a larger hose passes the bends is for the eye on the site.
	Usual, Larger Choice
}

// Recommend evaluates the trade's hose for a line, and the next larger one,
// with this pump: friction over the length, the pressure left, and the nozzle
// that brings the pump to its rated pressure, K = Q / sqrt(rated - friction).
// The thresholds are the trade table's: common practice, no source.
func Recommend(j Job, p Pump, loss Friction) Recommendation {
	if loss == nil || !within(p.FlowM3s, MinFlowM3s, MaxFlowM3s) || !within(p.RatedPa, 1, MaxPressurePa) ||
		!within(j.HoseLengthM, 0, 1e4) || !within(j.Cd, 1e-3, 1) || j.Holes < 1 || j.Holes > 64 ||
		!densityOK(j.DensityKgM3) || !within(j.LineM, 0, 100) {
		return Recommendation{}
	}
	need, i, ok := RowFor(j.LineM)
	if !ok {
		return Recommendation{Status: LineOutOfTable}
	}
	r := Recommendation{Status: RecommendOK, Usual: choose(j, p, need, need, loss)}
	if !r.Usual.Known {
		return Recommendation{Status: FrictionOutOfRange}
	}
	if i+1 < Rows {
		r.Larger = choose(j, p, need, TradeTable()[i+1], loss)
	}
	return r
}

// choose evaluates the hose of one row against the needs of the line's row.
func choose(j Job, p Pump, need, hose Row, loss Friction) Choice {
	c := Choice{Row: hose}
	line := Line{LengthM: j.HoseLengthM, BoreM: hose.HoseBoreM}
	c.Short = shortOf(p, need, hose)
	friction, ok := line.Friction(p.FlowM3s, loss)
	if !ok {
		return Choice{Row: hose}
	}
	c.FrictionPa, c.Known = friction, true
	left := p.RatedPa - friction
	factor, ok := FactorFrom(p.FlowM3s, left)
	if !ok {
		c.Short |= HoseTakesAll
		return c
	}
	areaM2, ok1 := AreaOf(factor, j.Cd, j.DensityKgM3)
	diameter, ok2 := DiameterOf(areaM2, j.Holes)
	number, ok3 := NumberOf(factor)
	if !ok1 || !ok2 || !ok3 {
		return Choice{Row: hose}
	}
	c.LeftPa, c.FactorM3sRootPa, c.Number, c.AreaM2, c.DiameterM = left, factor, number, areaM2, diameter
	c.NozzlePowerW = p.FlowM3s * left
	if left < float64(leastLeft*need.PressureMinPa) {
		c.Short |= NozzlePressureLow
	}
	return c
}

func shortOf(p Pump, need, hose Row) Shortfall {
	var s Shortfall
	if p.FlowM3s < need.FlowMinM3s {
		s |= FlowLow
	}
	if p.RatedPa < need.PressureMinPa {
		s |= RatedPressureLow
	}
	if p.FlowM3s > hose.FlowMaxM3s {
		s |= FlowHigh
	}
	return s
}
