package supply

import (
	"math"

	"headroom/rules/units"
)

// HelpStatus says whether a help could be evaluated.
type HelpStatus uint8

// The states. The zero value means that the help wasn't evaluated.
const (
	// HelpUnknown: what it needs isn't known (hose, tank, nozzle, friction).
	HelpUnknown HelpStatus = iota
	// HelpOK: evaluated; read Verdict for whether it is enough.
	HelpOK
	// HelpNone: there is no such help, such as a next larger bore.
	HelpNone
	// HelpNeedsReturn: a smaller nozzle doesn't spare the supply, since the
	// bypass doesn't go back to the inlet and the pump draws its whole flow.
	HelpNeedsReturn
	// HelpImpossible: the supply gives nothing at the wanted pressure, so no
	// size is small enough.
	HelpImpossible
	// HelpOutOfRange: the friction law or the tank's numbers are refused.
	HelpOutOfRange
)

// HoseHelp is what another hose would give.
type HoseHelp struct {
	Status HelpStatus
	// Hose is the hose evaluated.
	Hose Hose
	// LowM3s and HighM3s are the flow at the wanted inlet pressure: today's
	// range times the ratio of the two hoses' flows. Ratio is that ratio.
	LowM3s, HighM3s, Ratio float64
	// InletLowPa and InletHighPa are the inlet pressure at the demand: today's
	// range plus what the hose no longer takes. Only with InletOK.
	InletLowPa, InletHighPa float64
	InletOK                 bool
	Verdict                 Verdict
}

// NozzleHelp is what a smaller nozzle would give.
type NozzleHelp struct {
	Status HelpStatus
	// SizeFactor multiplies the nozzle's size number (its flow at one
	// pressure) so that the supply is enough by its lower curve; 1 when the
	// nozzle fits already.
	SizeFactor float64
	// NozzleM3s is the smaller nozzle's flow and DrawM3s that with the bypass
	// allowance; InletLowPa and InletHighPa the inlet pressure then, only with
	// InletOK.
	NozzleM3s, DrawM3s      float64
	InletLowPa, InletHighPa float64
	InletOK                 bool
	Verdict                 Verdict
}

// TankHelp is what a buffer tank would give.
type TankHelp struct {
	Status HelpStatus
	// FillM3s is the supply's lower flow into the open tank.
	FillM3s float64
	// LastS is how long it lasts with the pauses; Endless when for good.
	LastS   float64
	Endless bool
	// InletGaugePa is the pressure of the tank's height above the pump,
	// without losses; MeetsInlet says whether it reaches the wanted one.
	InletGaugePa float64
	MeetsInlet   bool
	// Verdict is Yes when it lasts Duty.JobS at the wanted inlet pressure,
	// Marginal when it lasts but the tank stands too low, otherwise No.
	Verdict Verdict
}

// Site is what is known of the place, for the helps. Zero means not known.
type Site struct {
	Hose Hose
	// ShorterM is the length of a shorter hose, m; 0 takes half the hose.
	ShorterM float64
	// TankM3 is the usable volume of a buffer tank, m3; TankHeadM how high its
	// water stands above the pump inlet, m; Duty how it would be used.
	TankM3, TankHeadM float64
	Duty              Duty
	// DensityKgM3 is the water's density, kg/m3.
	DensityKgM3 float64
}

// Advice holds the hose's share of the loss and each help with its numbers.
type Advice struct {
	Share                   Share
	LargerHose, ShorterHose HoseHelp
	SmallerNozzle           NozzleHelp
	Tank                    TankHelp
}

// Advise evaluates what would help, for a test that Judge has accepted. A help
// that lacks its inputs stays HelpUnknown; it is never guessed.
func Advise(t Test, n Need, s Site, loss Friction) Advice {
	j := Judge(t, n)
	if j.Verdict == VerdictUnknown {
		return Advice{}
	}
	a := Advice{Share: HoseShare(t, s.Hose, loss)}
	if l, ok := lineOf(t, a.Share, loss); ok {
		a.LargerHose = t.largerHose(j, n, s.Hose, l)
		a.ShorterHose = t.shorterHose(j, n, s, l)
	}
	a.SmallerNozzle = t.smallerNozzle(j, n)
	a.Tank = t.tank(j, n, s)
	return a
}

func (t Test) largerHose(j Judgement, n Need, h Hose, l line) HoseHelp {
	bore, ok := NextBore(h.BoreM)
	if !ok {
		return HoseHelp{Status: HelpNone}
	}
	return t.otherHose(j, n, h, Hose{LengthM: h.LengthM, BoreM: bore}, l)
}

func (t Test) shorterHose(j Judgement, n Need, s Site, l line) HoseHelp {
	short := Hose{LengthM: s.ShorterM, BoreM: s.Hose.BoreM}
	if !(short.LengthM > 0) {
		short.LengthM = s.Hose.LengthM / 2
	}
	if short.LengthM >= s.Hose.LengthM {
		return HoseHelp{Status: HelpNone}
	}
	return t.otherHose(j, n, s.Hose, short, l)
}

// otherHose compares two hoses on the same tap. Only their ratio is taken from
// the model, so that a help which changes nothing changes no verdict.
func (t Test) otherHose(j Judgement, n Need, old, other Hose, l line) HoseHelp {
	was, ok1 := l.flow(old, n.InletGaugePa)
	now, ok2 := l.flow(other, n.InletGaugePa)
	if !ok1 || !ok2 {
		return HoseHelp{Status: HelpOutOfRange, Hose: other}
	}
	h := HoseHelp{Status: HelpOK, Hose: other, Ratio: 1}
	if was > 0 {
		h.Ratio = now / was
	}
	h.LowM3s, h.HighM3s = float64(j.Result.Flow.Low*h.Ratio), float64(j.Result.Flow.High*h.Ratio)
	d := j.Governing()
	before, ok1 := l.loss(old.LengthM, old.BoreM, d.RequiredM3s)
	after, ok2 := l.loss(other.LengthM, other.BoreM, d.RequiredM3s)
	if ok1 && ok2 && d.Inlet.OK {
		h.InletLowPa = d.Inlet.Low + (before - after)
		h.InletHighPa = d.Inlet.High + (before - after)
		h.InletOK = true
	}
	h.Verdict = verdictOf(h.LowM3s, h.HighM3s, d.RequiredM3s)
	if doubtful(j.Result.Flags, d.Extrapolated) {
		h.Verdict = Marginal
	}
	return h
}

// smallerNozzle sizes the nozzle for the supply's lower flow.
func (t Test) smallerNozzle(j Judgement, n Need) NozzleHelp {
	switch {
	case n.NozzleM3s <= 0:
		return NozzleHelp{}
	case n.Return != ReturnToInlet:
		return NozzleHelp{Status: HelpNeedsReturn}
	}
	// A hair less, so that adding the allowance again cannot round above it.
	room := float64((j.Result.Flow.Low - n.BypassM3s) * (1 - 1e-12))
	if room < MinFlowM3s {
		return NozzleHelp{Status: HelpImpossible, Verdict: No}
	}
	h := NozzleHelp{Status: HelpOK, SizeFactor: math.Min(room/n.NozzleM3s, 1)}
	h.NozzleM3s = math.Min(room, n.NozzleM3s)
	small := n
	small.NozzleM3s = h.NozzleM3s
	d := t.draw(j.Result, small, math.Min(h.NozzleM3s, n.PumpM3s))
	h.DrawM3s, h.InletOK, h.Verdict = d.RequiredM3s, d.Inlet.OK, d.Verdict
	h.InletLowPa, h.InletHighPa = d.Inlet.Low, d.Inlet.High
	return h
}

// tank fills an open tank through the same hose, so the inlet pressure of the
// fill is the atmosphere's.
func (t Test) tank(j Judgement, n Need, s Site) TankHelp {
	if !(s.TankM3 > 0) {
		return TankHelp{}
	}
	fill := t.span(flowAtPressure, 0)
	if !fill.OK || !within(s.Duty.JobS, 0, maxDutyS) || !within(s.TankHeadM, 0, 100) || !within(s.DensityKgM3, 900, 1100) {
		return TankHelp{Status: HelpOutOfRange}
	}
	h := TankHelp{Status: HelpOK, FillM3s: math.Max(fill.Low, 0)}
	last, endless, ok := TankLast(s.TankM3, j.Governing().RequiredM3s, h.FillM3s, s.Duty)
	if !ok {
		return TankHelp{Status: HelpOutOfRange}
	}
	h.LastS, h.Endless = last, endless
	h.InletGaugePa = s.DensityKgM3 * units.StandardGravityMS2 * s.TankHeadM
	h.MeetsInlet = h.InletGaugePa >= n.InletGaugePa
	h.Verdict = No
	if endless || last >= s.Duty.JobS {
		h.Verdict = Marginal
		if h.MeetsInlet {
			h.Verdict = Yes
		}
	}
	return h
}
