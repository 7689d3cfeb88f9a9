package wear

import "math"

// MaxBaseline is how many points a baseline holds.
const MaxBaseline = 32

// Point is one steady reading of volumetric efficiency.
type Point struct {
	// SpeedHz is the crankshaft's speed in rev/s, 0.1 to 200.
	SpeedHz float64
	// DropPa is the pressure difference across the pump in pascal, 0 to 500
	// MPa.
	DropPa float64
	// TempK is the water's temperature in kelvin, 263.15 to 423.15.
	TempK float64
	// Efficiency is the volumetric efficiency, above 0 to MaxEfficiency.
	Efficiency float64
}

// isState reports whether speed, pressure and temperature are in range.
func (p Point) isState() bool {
	return within(p.SpeedHz, 0.1, maxSpeedHz) && within(p.DropPa, 0, maxPa) &&
		within(p.TempK, minTempK, maxTempK)
}

// Tolerance says when two states count as the same.
type Tolerance struct {
	// SpeedFrac is the allowed difference of speed, as a fraction.
	SpeedFrac float64
	// TempK is the allowed difference of temperature in kelvin; slip grows as
	// the water thins, by some 2 % per kelvin when it is laminar.
	TempK float64
	// DropPa is how far from a point outside its neighbours still counts as
	// at that point, in pascal.
	DropPa float64
	// GapPa is the widest gap between two points that is bridged by a
	// straight line, in pascal.
	GapPa float64
}

// DefaultTolerance is 3 % of speed, 10 K, 0.5 MPa and gaps up to 7 MPa. Common
// practice, no source; editable.
func DefaultTolerance() Tolerance {
	return Tolerance{SpeedFrac: 0.03, TempK: 10, DropPa: 0.5e6, GapPa: 7e6}
}

// Baseline is what the machine did when it was known to be sound, for instance
// after a rebuild. It is a value without pointers; Add fills it.
type Baseline struct {
	// Points holds N points, in the order they were taken.
	Points [MaxBaseline]Point
	N      int
	// Tol says which of them a reading may be compared with.
	Tol Tolerance
}

// Add appends a point. It reports false, and leaves the baseline as it is,
// where the point is out of range or the baseline is full.
func (b *Baseline) Add(p Point) bool {
	if b.N < 0 || b.N >= MaxBaseline || !p.isState() || !upTo(p.Efficiency, MaxEfficiency) {
		return false
	}
	b.Points[b.N] = p
	b.N++
	return true
}

// matches reports whether a point was taken at this speed and temperature.
func (b *Baseline) matches(p *Point, at Point) bool {
	return math.Abs(p.SpeedHz-at.SpeedHz) <= b.Tol.SpeedFrac*at.SpeedHz &&
		math.Abs(p.TempK-at.TempK) <= b.Tol.TempK
}

// neighbours returns the indices of the matching points next below and next
// above in pressure, or -1. At equal pressure the later point counts, being
// the newer.
func (b *Baseline) neighbours(at Point) (lo, hi int) {
	lo, hi = -1, -1
	for i := range b.Points[:min(max(b.N, 0), MaxBaseline)] {
		p := &b.Points[i]
		if !b.matches(p, at) {
			continue
		}
		if p.DropPa <= at.DropPa && (lo < 0 || p.DropPa >= b.Points[lo].DropPa) {
			lo = i
		}
		if p.DropPa >= at.DropPa && (hi < 0 || p.DropPa <= b.Points[hi].DropPa) {
			hi = i
		}
	}
	return lo, hi
}

// Expected returns the baseline's efficiency at a state; the state's own
// Efficiency isn't looked at. Only points at the same speed and temperature,
// within the tolerance, count; between two of them in pressure it follows a
// straight line. Outside them, beyond Tol.DropPa, ok is false: a baseline is
// never extrapolated.
// Source: linear interpolation.
func (b *Baseline) Expected(at Point) (eff float64, ok bool) {
	if !at.isState() {
		return 0, false
	}
	lo, hi := b.neighbours(at)
	if lo >= 0 && hi >= 0 {
		l, h := b.Points[lo], b.Points[hi]
		if gap := h.DropPa - l.DropPa; gap == 0 {
			eff = l.Efficiency
		} else if gap <= b.Tol.GapPa {
			eff = l.Efficiency + float64((h.Efficiency-l.Efficiency)*((at.DropPa-l.DropPa)/gap))
		}
	}
	if eff == 0 {
		eff = b.nearest(at, lo, hi)
	}
	// Points written past Add may hold anything.
	if !upTo(eff, MaxEfficiency) {
		return 0, false
	}
	return eff, true
}

// nearest is the efficiency of the nearer of two neighbours if it is within
// the tolerance of pressure, else 0.
func (b *Baseline) nearest(at Point, lo, hi int) float64 {
	best, eff := b.Tol.DropPa, 0.0
	for _, i := range [2]int{lo, hi} {
		if i < 0 {
			continue
		}
		if d := math.Abs(b.Points[i].DropPa - at.DropPa); d <= best {
			best, eff = d, b.Points[i].Efficiency
		}
	}
	return eff
}

// CompareStatus says whether a reading could be compared.
type CompareStatus uint8

// The statuses of a comparison.
const (
	// CompareUnknown: the reading is missing or out of range.
	CompareUnknown CompareStatus = iota
	// CompareOutside: the baseline has nothing at this state.
	CompareOutside
	// Compared: Expected and Loss hold.
	Compared
)

// String returns the status as one word in lower case.
func (s CompareStatus) String() string {
	switch s {
	case CompareOutside:
		return "outside"
	case Compared:
		return "compared"
	}
	return "unknown"
}

// Comparison is a reading beside the baseline.
type Comparison struct {
	Status CompareStatus
	// Expected is the baseline's efficiency; Loss is the fraction of it that
	// is gone, negative where the reading is better. Both 0 unless Compared.
	Expected, Loss float64
}

// Compare puts a reading beside the baseline at the same state.
// Source: Loss = 1 - eta/eta_baseline.
func (b *Baseline) Compare(p Point) Comparison {
	if !p.isState() || !within(p.Efficiency, 0, MaxEfficiency) {
		return Comparison{}
	}
	want, ok := b.Expected(p)
	if !ok || want < 1e-3 {
		return Comparison{Status: CompareOutside}
	}
	return Comparison{Status: Compared, Expected: want, Loss: 1 - p.Efficiency/want}
}
