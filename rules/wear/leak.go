package wear

// MaxSlips is how many readings of slip an Evidence holds.
const MaxSlips = 16

// Cause says where slip comes from.
type Cause uint8

// The causes of slip.
const (
	// CauseUnknown: too few readings (three are needed), or broken ones.
	CauseUnknown Cause = iota
	// CauseNone: the slip is surely below what matters.
	CauseNone
	// CauseValves: most of it grows with the root of pressure, as through a
	// valve that doesn't close.
	CauseValves
	// CausePacking: most of it grows with pressure and falls with viscosity,
	// as through the clearance of packing and plunger.
	CausePacking
	// CauseCannotTell: the readings are too noisy or too alike to say whether
	// there is slip that matters, or which of the two it is, or fit neither.
	CauseCannotTell
)

// String returns the cause in plain words.
func (c Cause) String() string {
	switch c {
	case CauseNone:
		return "none"
	case CauseValves:
		return "valves"
	case CausePacking:
		return "packing"
	case CauseCannotTell:
		return "cannot tell"
	}
	return "unknown"
}

// Slip is one steady reading of slip.
type Slip struct {
	// DropPa is the pressure difference across the pump, above 0 to 500 MPa.
	DropPa float64
	// ViscosityPaS is the water's dynamic viscosity, 1e-5 to 1 Pa s.
	ViscosityPaS float64
	// SlipM3s is the slip, best less that of the baseline at the same state
	// and speed: what late valves give back grows with speed and not with
	// pressure, and only the difference is free of it. -1 to 1 m3/s.
	SlipM3s float64
}

// Evidence is a set of readings of slip at different pressures.
type Evidence struct {
	// Points holds N readings.
	Points [MaxSlips]Slip
	N      int
	// SigmaM3s is the standard uncertainty of one SlipM3s, above 0. Slip is a
	// small difference of large flows, so it is that of the flow meter and not
	// a fraction of the slip.
	SigmaM3s float64
	// MatterM3s is the smallest slip at the highest pressure that is worth
	// acting on, 0 to 1 m3/s. With 0 nothing is ever called CauseNone.
	MatterM3s float64
	// PackingSeen says whether water that leaks past the packing is missing at
	// the flow meter: true with the meter behind the pump, or where the
	// packing's leakage is led back to the inlet. With the meter at the inlet
	// and leakage to the ground it is false, the meter has counted that water,
	// and packing is never named.
	PackingSeen bool
}

// Add appends a reading. It reports false, and changes nothing, where the
// reading is out of range or the set is full.
func (e *Evidence) Add(s Slip) bool {
	if e.N < 0 || e.N >= MaxSlips || !s.valid() {
		return false
	}
	e.Points[e.N] = s
	e.N++
	return true
}

// valid reports whether a reading is in range.
func (s Slip) valid() bool {
	return within(s.DropPa, 1e3, maxPa) && within(s.ViscosityPaS, minViscPaS, maxViscPaS) &&
		within(s.SlipM3s, -maxFlowM3s, maxFlowM3s)
}

// Leak is the verdict on an Evidence.
type Leak struct {
	Cause Cause
	// ValveM3s and PackingM3s are the two parts of the slip in m3/s at the
	// highest pressure of the set and that reading's viscosity; DropPa is that
	// pressure. 0 with CauseUnknown, and where the pressures are too alike to
	// part them.
	ValveM3s, PackingM3s, DropPa float64
	// Sigmas is by how many standard deviations the parts differ, positive
	// towards the valves.
	Sigmas float64
}
