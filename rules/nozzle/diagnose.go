package nozzle

import "math"

// Reading is a smoothed pair of flow and outlet pressure.
type Reading struct {
	// FlowM3s in m3/s and OutletGaugePa at the pump's outlet in Pa gauge.
	FlowM3s, OutletGaugePa float64
	// FlowTol is the flow's tolerance as a fraction, 0..0.5; PressureTolPa the
	// pressure's in Pa.
	FlowTol, PressureTolPa float64
}

// Expected is what the machine gives with a good nozzle and hose.
type Expected struct {
	// FactorM3sRootPa is the nozzle's factor, from its size or from a reading
	// with a new nozzle.
	FactorM3sRootPa float64
	// HoseCoefficient is c of the hose's friction c Q^2, Pa/(m3/s)^2; 0 without
	// a hose. See the function HoseCoefficient.
	HoseCoefficient float64
	// PumpM3s is the pump's flow at its present speed, m3/s.
	PumpM3s float64
}

// Limits are the thresholds of the diagnosis, all fractions.
type Limits struct {
	// Worn and Blocked are how far the nozzle's factor may lie above and below
	// the expected one. WornMost is how far above it a nozzle still explains
	// alone: beyond that a leak or the unloader is as likely.
	Worn, Blocked, WornMost float64
	// FullFlow is the share of the pump's flow from which the flow is full,
	// NoFlow that below which nothing is said to flow.
	FullFlow, NoFlow float64
	// Collapse is the share of the expected pressure below which the pressure
	// has collapsed.
	Collapse float64
}

// DefaultLimits are judgement and common practice, no source: the trade changes
// a nozzle at about 10 % more flow, which is 20 % less pressure at a fixed flow.
func DefaultLimits() Limits {
	return Limits{Worn: 0.10, Blocked: 0.10, WornMost: 0.35, FullFlow: 0.80, NoFlow: 0.05, Collapse: 0.25}
}

// Valid reports whether Diagnose takes the limits: Worn 0.001 to 1 and up to
// WornMost, which is at most 10; Blocked 0.001 to 0.9; NoFlow 0.001 to 0.5 and up
// to FullFlow, which is at most 1; Collapse 0 to 0.9.
func (l Limits) Valid() bool {
	return within(l.Worn, 1e-3, 1) && within(l.Blocked, 1e-3, 0.9) && within(l.WornMost, l.Worn, 10) &&
		within(l.NoFlow, 1e-3, 0.5) && within(l.FullFlow, l.NoFlow, 1) && within(l.Collapse, 0, 0.9)
}

// Diagnosis is the judgement of one reading. Only Finding may be read when it
// is InputUnknown.
type Diagnosis struct {
	Finding    Finding
	Candidates Candidates
	Needs      Needs
	// FactorRatio is the measured nozzle factor over the expected one, Residual
	// that less 1 and ResidualTol its tolerance from the sensors; only with
	// RatioKnown. Worn is above 0, blocked below.
	FactorRatio, Residual, ResidualTol float64
	RatioKnown                         bool
	// ExpectedPa is the outlet pressure that the measured flow should need and
	// ResidualPa the measured one less that, Pa.
	ExpectedPa, ResidualPa float64
}

// Diagnose judges nozzle and hose from one smoothed reading. The nozzle's own
// factor is measured as Q / sqrt(outlet - c Q^2) and held against the expected
// one, so that the residual is free of the pump's speed and of the hose. The
// finding is InputUnknown for readings, expectations or limits outside their
// range. Source: orifice law; thresholds see DefaultLimits. It allocates
// nothing.
func Diagnose(r Reading, e Expected, f Facts, l Limits) Diagnosis {
	if !r.valid() || !e.valid() || !l.Valid() {
		return Diagnosis{}
	}
	d := Diagnosis{ExpectedPa: e.outlet(r.FlowM3s)}
	d.ResidualPa = r.OutletGaugePa - d.ExpectedPa
	if r.FlowM3s < float64(l.NoFlow*e.PumpM3s) {
		return d.noFlow(r, e, f, l)
	}
	d.measure(r, e)
	full := r.FlowM3s >= float64(l.FullFlow*e.PumpM3s)
	switch {
	case r.OutletGaugePa <= float64(l.Collapse*d.ExpectedPa):
		return d.collapsed(f, full)
	case f.Trigger == TriggerClosed:
		return d.closed(f)
	case f.Unloader == UnloaderBypassing && f.Meter != MeterJet:
		return d.say(Dumping, MayBeDumping, 0)
	case !d.RatioKnown:
		return d.say(CannotTell, leaks(f)|MayBeBurst, needsOf(f)|NeedLook)
	}
	return d.byRatio(f, l)
}

func (r Reading) valid() bool {
	return within(r.FlowM3s, 0, MaxFlowM3s) && within(r.OutletGaugePa, -101325, MaxPressurePa) &&
		within(r.FlowTol, 0, 0.5) && within(r.PressureTolPa, 0, MaxPressurePa)
}

func (e Expected) valid() bool {
	return within(e.FactorM3sRootPa, minFactor, maxFactor) && within(e.HoseCoefficient, 0, 1e25) &&
		within(e.PumpM3s, MinFlowM3s, MaxFlowM3s) && within(e.outlet(e.PumpM3s), 1, MaxPressurePa)
}

// outlet is the pressure that drives a flow through hose and nozzle.
func (e Expected) outlet(flowM3s float64) float64 {
	return square(flowM3s/e.FactorM3sRootPa) + float64(e.HoseCoefficient*square(flowM3s))
}

// measure fills in the nozzle's factor ratio and its tolerance. With
// pn = p - c Q^2 the factor is Q/sqrt(pn), and its relative tolerance
// sqrt((uQ/Q (1 + c Q^2/pn))^2 + (up/(2 pn))^2). Source: GUM 5.1.2.
func (d *Diagnosis) measure(r Reading, e Expected) {
	hose := float64(e.HoseCoefficient * square(r.FlowM3s))
	left := r.OutletGaugePa - hose
	factor, ok := FactorFrom(r.FlowM3s, left)
	if !ok {
		return
	}
	ratio := factor / e.FactorM3sRootPa
	byFlow := float64(r.FlowTol * (1 + hose/left))
	byPressure := r.PressureTolPa / (2 * left)
	tol := float64(ratio * math.Sqrt(square(byFlow)+square(byPressure)))
	if !within(ratio, 0, 1e6) || !within(tol, 0, 1e6) {
		return
	}
	d.FactorRatio, d.Residual, d.ResidualTol, d.RatioKnown = ratio, ratio-1, tol, true
}

func (d Diagnosis) say(f Finding, c Candidates, n Needs) Diagnosis {
	d.Finding, d.Candidates, d.Needs = f, c, n
	return d
}

// noFlow: nothing flows, so only the pressure tells.
func (d Diagnosis) noFlow(r Reading, e Expected, f Facts, l Limits) Diagnosis {
	high := r.OutletGaugePa > float64(l.Collapse*e.outlet(e.PumpM3s))
	switch {
	case f.Trigger == TriggerClosed:
		return d.say(NotSpraying, MayBeClosed, 0)
	case high && f.Trigger == TriggerOpen:
		return d.say(Blocked, MayBeBlocked, 0)
	case high:
		return d.say(CannotTell, MayBeBlocked|MayBeClosed, NeedTrigger)
	case f.Unloader == UnloaderBypassing:
		return d.say(NotSpraying, MayBeDumping, 0)
	case f.Unloader == UnloaderLoaded || f.Meter == MeterPump:
		return d.say(NotSpraying, MayBeStopped, 0)
	}
	return d.say(NotSpraying, MayBeStopped|MayBeDumping, NeedUnloader)
}

// collapsed: water flows without pressure. Where the meter sees only the jet's
// water the water is outside; otherwise the unloader may pass it back.
func (d Diagnosis) collapsed(f Facts, full bool) Diagnosis {
	open := MayBeBurst
	if !full {
		// A part of the pump's flow without pressure is not yet a burst.
		open |= MayBeLeaking | MayBeWorn
	}
	switch {
	case f.Meter == MeterJet || f.Unloader == UnloaderLoaded:
		if full {
			return d.say(Burst, open, 0)
		}
		return d.say(CannotTell, open, NeedLook)
	case f.Unloader == UnloaderBypassing:
		return d.say(Dumping, MayBeDumping, 0)
	case f.Trigger == TriggerClosed:
		// With the trigger closed the unloader is made to do this.
		return d.say(Dumping, MayBeDumping|MayBeBurst, NeedUnloader)
	case f.Trigger == TriggerOpen && full:
		// With the trigger open a sound unloader doesn't: the burst leads.
		return d.say(Burst, open|MayBeDumping, NeedUnloader)
	}
	return d.say(CannotTell, open|MayBeDumping, needsOf(f))
}

// closed: water flows under pressure although the trigger is closed.
func (d Diagnosis) closed(f Facts) Diagnosis {
	if f.Meter == MeterJet {
		return d.say(CannotTell, MayBeLeaking|MayBeBurst, NeedLook)
	}
	return d.say(NotSpraying, MayBeClosed, 0)
}

// byRatio: water flows under pressure; the nozzle's factor decides.
func (d Diagnosis) byRatio(f Facts, l Limits) Diagnosis {
	limit := l.Worn
	if d.Residual < 0 {
		limit = l.Blocked
	}
	size := math.Abs(d.Residual)
	switch {
	case size <= limit && d.ResidualTol <= limit:
		return d.say(AsExpected, MayBeFine, 0)
	case size <= d.ResidualTol:
		// The sensors cannot tell a fault from none.
		return d.say(CannotTell, MayBeFine|MayBeWorn|MayBeBlocked, NeedBetterReading)
	case d.Residual > l.WornMost:
		return d.say(CannotTell, MayBeWorn|leaks(f), needsOf(f)|NeedLook)
	case d.Residual > 0:
		return d.say(Worn, MayBeWorn|leaks(f), needsOf(f)|NeedLook)
	}
	if f.Trigger == TriggerUnknown && f.Meter != MeterJet {
		// A closed trigger traps pressure while the pump's water goes round.
		return d.say(CannotTell, MayBeBlocked|MayBeClosed, NeedTrigger)
	}
	return d.say(Blocked, MayBeBlocked, 0)
}

// leaks are the ways in which water goes missing before the nozzle.
func leaks(f Facts) Candidates {
	if f.Meter == MeterJet || f.Unloader == UnloaderLoaded {
		return MayBeLeaking
	}
	return MayBeLeaking | MayBeDumping
}

// needsOf are the facts that would exclude the unloader.
func needsOf(f Facts) Needs {
	if f.Meter == MeterJet || f.Unloader == UnloaderLoaded {
		return 0
	}
	n := NeedUnloader
	if f.Trigger == TriggerUnknown {
		n |= NeedTrigger
	}
	if f.Meter == MeterUnknown {
		n |= NeedMeter
	}
	return n
}
