package unloader

import "math"

// Method says how current follows pressure.
type Method uint8

// The methods.
const (
	// MethodUnknown is no method and gives ReasonInput.
	MethodUnknown Method = iota
	// ByLine draws a line from the no-load current through the present reading.
	ByLine
	// ByEfficiency splits the current by the measured overall efficiency.
	ByEfficiency
)

// String returns the method as an identifier, not as text for the user.
func (m Method) String() string {
	switch m {
	case ByLine:
		return "by-line"
	case ByEfficiency:
		return "by-efficiency"
	}
	return "unknown"
}

// Reason says why there is no advice, or that there is.
type Reason uint8

// The reasons. Advise gives ok=true for ReasonOK and ReasonNotNeeded only.
const (
	// ReasonInput: an input is no number or out of range.
	ReasonInput Reason = iota
	// ReasonOK: turn down to Advice.PumpPa.
	ReasonOK
	// ReasonNotNeeded: the present current is at or below the limit.
	ReasonNotNeeded
	// ReasonBelowNoLoad: the limit is at or below what the motor draws without
	// pressure. No unloader setting helps.
	ReasonBelowNoLoad
	// ReasonTooLow: the pressure would have to fall below MinShare.
	ReasonTooLow
	// ReasonInconsistent: the readings contradict each other: a no-load current
	// not below the present one, or more active current than current.
	ReasonInconsistent
)

// String returns the reason as an identifier, not as text for the user.
func (r Reason) String() string {
	switch r {
	case ReasonOK:
		return "ok"
	case ReasonNotNeeded:
		return "not-needed"
	case ReasonBelowNoLoad:
		return "below-no-load"
	case ReasonTooLow:
		return "too-low"
	case ReasonInconsistent:
		return "inconsistent"
	}
	return "input"
}

// The ranges of Advise.
const (
	// MinShare is the smallest share of the present pressure that is advised.
	// Below it the pump's own losses rule and the nozzle no longer cleans.
	// Common practice, no source.
	MinShare = 0.1
	// MaxA bounds the currents in amperes.
	MaxA = 1000.0
	// MaxPa bounds the gauge pressures in pascal.
	MaxPa = 1e9
	// MaxM3s bounds the flow in m3/s.
	MaxM3s = 1.0
	// MaxW bounds the hydraulic power in watts.
	MaxW = 1e6
)

// Input is one steady operating point and the limit.
type Input struct {
	Method Method
	// NowA is the present motor current, LimitA what it shall not exceed and
	// NoLoadA the current with the pump turning and the unloader dumping, in
	// amperes RMS; 0 is allowed for NoLoadA only.
	NowA, LimitA, NoLoadA float64
	// PumpPa is the gauge pressure at the pump's outlet, ahead of the unloader.
	PumpPa float64
	// NozzlePa and NozzleM3s are the gauge pressure in front of the nozzle and
	// the flow through it; where the former isn't measured, PumpPa stands in.
	NozzlePa, NozzleM3s float64
	// SlopeAPerPa is a measured slope of current against pressure in A/Pa, for
	// ByLine. 0 takes the line through the present reading, and so does a
	// smaller slope, to stay on the safe side.
	SlopeAPerPa float64
	// HydraulicW is the pump's hydraulic power now and Efficiency the overall
	// efficiency, hydraulic by electric active power at this point, above 0 to
	// 1, for ByEfficiency. SupplyV is the voltage at the motor, 50 to 500 V.
	HydraulicW, Efficiency, SupplyV float64
}

// Advice is the setting and its cost.
type Advice struct {
	// PumpPa is the gauge pressure to set and CutPa how far that is down.
	PumpPa, CutPa float64
	// PredictedA is the current there, never above the limit.
	PredictedA float64
	// PressureShare, FlowShare and PowerShare are what is left at the nozzle as
	// shares of now: r, r^0.5 and r^1.5.
	PressureShare, FlowShare, PowerShare float64
	// NozzlePa, NozzleM3s and NozzleW are what is left at the nozzle, NowW the
	// hydraulic power there now.
	NozzlePa, NozzleM3s, NozzleW, NowW float64
}

// Advise finds the highest pressure at which the current keeps to the limit.
// The unloader holds the pump at its flow and sends what the nozzle can't take
// back to the inlet, so the pump's load falls with the pressure; hose and
// nozzle both lose with the square of the flow, so that the nozzle's pressure
// falls by the same share. ok=false gives a zero Advice and the reason.
// Source: the equations in current.go; the orifice law, any text on hydraulics.
func Advise(in Input) (Advice, Reason, bool) {
	if !in.valid() {
		return Advice{}, ReasonInput, false
	}
	if in.NowA <= in.LimitA {
		return in.at(1, in.NowA), ReasonNotNeeded, true
	}
	c, ok := in.curve()
	if !ok {
		return Advice{}, ReasonInconsistent, false
	}
	if in.LimitA <= math.Max(in.NoLoadA, c.current(0)) {
		return Advice{}, ReasonBelowNoLoad, false
	}
	share := math.Min(1, c.share(in.LimitA))
	// The inversion is exact but for rounding; step down until the prediction
	// itself keeps to the limit.
	for range 20 {
		if c.current(share) <= in.LimitA {
			break
		}
		share = float64(share * (1 - 1e-12))
	}
	switch a := c.current(share); {
	case !(share >= MinShare):
		return Advice{}, ReasonTooLow, false
	case !(a <= in.LimitA):
		return Advice{}, ReasonInconsistent, false
	default:
		return in.at(share, a), ReasonOK, true
	}
}

func (in Input) valid() bool {
	ok := positive(in.NowA, MaxA) && positive(in.LimitA, MaxA) && (in.NoLoadA == 0 || positive(in.NoLoadA, MaxA)) &&
		positive(in.PumpPa, MaxPa) && positive(in.NozzlePa, MaxPa) && positive(in.NozzleM3s, MaxM3s)
	switch in.Method {
	case ByLine:
		return ok && in.SlopeAPerPa >= 0 && in.SlopeAPerPa <= MaxA
	case ByEfficiency:
		return ok && positive(in.HydraulicW, MaxW) && in.SupplyV >= 50 && in.SupplyV <= 500 &&
			in.Efficiency >= 0.01 && in.Efficiency <= 1
	}
	return false
}

// at is the advice for a share of the present pressure.
func (in Input) at(share, currentA float64) Advice {
	flow := math.Sqrt(share)
	power := float64(share * flow)
	nowW := float64(in.NozzlePa * in.NozzleM3s)
	pumpPa := float64(share * in.PumpPa)
	return Advice{
		PumpPa: pumpPa, CutPa: in.PumpPa - pumpPa, PredictedA: currentA,
		PressureShare: share, FlowShare: flow, PowerShare: power,
		NozzlePa: float64(share * in.NozzlePa), NozzleM3s: float64(flow * in.NozzleM3s),
		NozzleW: float64(power * nowW), NowW: nowW,
	}
}

// positive reports 1e-9 <= x <= hi; smaller values are rests of a sensor at
// zero and no operating point. NaN is never in range.
func positive(x, hi float64) bool { return x >= 1e-9 && x <= hi }
