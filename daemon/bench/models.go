package bench

import (
	"math"

	"headroom/rules/frame"
	"headroom/rules/gum"
	"headroom/rules/suction"
	"headroom/rules/units"
	"headroom/rules/wear"
)

// The bounds within which a figure may be read off its points.
const (
	// plateReach is how far beyond the highest point the line is followed, as a
	// share: the width of the last target's band and a little.
	plateReach = 1.04
	// nearPlate is how far a point may lie from plate pressure to stand for it.
	nearPlate = 0.06
)

// models are the figures as functions of a look; the fixed parts, such as
// which points count, depend on the record alone.
var models = [NumFigures]func(l *look) (float64, bool){
	FlowAtPlate: func(l *look) (float64, bool) {
		e, ok := l.efficiencyAtPlate()
		return e * l.rec.Pump.DisplacementM3 * l.rec.Pump.SpeedHz, ok
	},
	VolumetricEff: (*look).efficiencyAtPlate,
	FlowLost: func(l *look) (float64, bool) {
		line, ok := l.efficiencyLine()
		return -line.Slope * l.rec.Pump.PressurePa * l.rec.Pump.DisplacementM3 * l.rec.Pump.SpeedHz, ok
	},
	SpeedAtPlate: func(l *look) (float64, bool) {
		p, ok := l.platePoint()
		if !ok {
			return 0, false
		}
		return l.at(p, frame.ShaftSpeed)
	},
	HydraulicPower: (*look).hydraulicW,
	InputPower:     (*look).inputW,
	OverallEff: func(l *look) (float64, bool) {
		out, ok1 := l.hydraulicW()
		in, ok2 := l.inputW()
		if !ok1 || !ok2 || in <= 0 {
			return 0, false
		}
		return out / in, true
	},
	CurrentAtPlate: func(l *look) (float64, bool) {
		line, ok := l.currentLine()
		if !ok || !l.plateReached() {
			return 0, false
		}
		return line.Intercept + line.Slope*l.rec.Pump.PressurePa, true
	},
	NoLoadCurrent: func(l *look) (float64, bool) {
		line, ok := l.currentLine()
		return line.Intercept, ok
	},
	CurrentSlope: func(l *look) (float64, bool) {
		line, ok := l.currentLine()
		return line.Slope, ok
	},
	NozzlePressure: func(l *look) (float64, bool) { return l.outletOf(Own) },
	ReliefPressure: func(l *look) (float64, bool) { return l.outletOf(Relief) },
	LeakDown: func(l *look) (float64, bool) {
		p, ok := l.newest(Leak)
		if !ok {
			return 0, false
		}
		perS, mean, ok := l.slope(p, frame.OutletPressure)
		if !ok || mean <= 0 {
			return 0, false
		}
		return -60 * perS / mean, true
	},
	BypassRise: func(l *look) (float64, bool) {
		p, ok := l.newest(Bypass)
		if !ok {
			return 0, false
		}
		perS, _, ok := l.slope(p, frame.WaterTemp)
		return 60 * perS, ok
	},
	NPSHRequired: (*look).npshRequired,
	PackingLeak:  func(l *look) (float64, bool) { return l.told(Cup) },
}

// newest returns the point of a kind.
func (l *look) newest(k Kind) (*Point, bool) {
	ps := l.rec.of(k)
	if len(ps) == 0 {
		l.refuse("not tested")
		return nil, false
	}
	return ps[len(ps)-1], true
}

func (l *look) outletOf(k Kind) (float64, bool) {
	p, ok := l.newest(k)
	if !ok {
		return 0, false
	}
	return l.at(p, frame.OutletPressure)
}

// dropPa is the pressure rise across the pump in a point.
func (l *look) dropPa(p *Point) (float64, bool) {
	out, ok1 := l.at(p, frame.OutletPressure)
	in, ok2 := l.at(p, frame.InletPressure)
	return out - in, ok1 && ok2
}

// efficiencyOf is the volumetric efficiency of a point.
func (l *look) efficiencyOf(p *Point) (float64, bool) {
	q, ok1 := l.at(p, frame.Flow)
	n, ok2 := l.at(p, frame.ShaftSpeed)
	if !ok1 || !ok2 {
		return 0, false
	}
	e, ok := wear.VolumetricEfficiency(q, l.rec.Pump.DisplacementM3, n)
	if !ok {
		return l.refuse("flow, speed and displacement contradict each other: more flows than is swept")
	}
	return e, true
}

// efficiencyLine is volumetric efficiency against pressure rise.
// Source: a straight line by least squares; leakage grows with pressure.
func (l *look) efficiencyLine() (gum.Line, bool) {
	return l.lineThrough(l.rec.of(NoLoad, Load), (*look).dropPa, (*look).efficiencyOf)
}

// currentLine is motor current against outlet pressure.
func (l *look) currentLine() (gum.Line, bool) {
	outlet := func(l *look, p *Point) (float64, bool) { return l.at(p, frame.OutletPressure) }
	current := func(l *look, p *Point) (float64, bool) { return l.at(p, frame.MotorCurrent) }
	return l.lineThrough(l.rec.of(NoLoad, Load, Own, Unloader), outlet, current)
}

func (l *look) lineThrough(ps []*Point, fx, fy func(*look, *Point) (float64, bool)) (gum.Line, bool) {
	if len(ps) < 3 {
		l.refuse("fewer than three load points")
		return gum.Line{}, false
	}
	x, y := make([]float64, len(ps)), make([]float64, len(ps))
	for i, p := range ps {
		var okX, okY bool
		x[i], okX = fx(l, p)
		y[i], okY = fy(l, p)
		if !okX || !okY {
			return gum.Line{}, false
		}
	}
	return gum.FitLine(x, y)
}

// plateReached reports whether the load points come up to plate pressure.
func (l *look) plateReached() bool {
	top := 0.0
	for _, p := range l.rec.of(NoLoad, Load) {
		r, _ := p.Find(frame.OutletPressure)
		top = max(top, r.Mean)
	}
	if top*plateReach >= l.rec.Pump.PressurePa {
		return true
	}
	l.refuse("the points end at " + both(units.Pressure, top) + ", short of plate pressure")
	return false
}

func (l *look) efficiencyAtPlate() (float64, bool) {
	line, ok := l.efficiencyLine()
	if !ok || !l.plateReached() {
		return 0, false
	}
	return line.Intercept + line.Slope*l.rec.Pump.PressurePa, true
}

// platePoint is the load point nearest to plate pressure.
func (l *look) platePoint() (*Point, bool) {
	var best *Point
	least := nearPlate * l.rec.Pump.PressurePa
	for _, p := range l.rec.of(Load) {
		if r, ok := p.Find(frame.OutletPressure); ok && abs(r.Mean-l.rec.Pump.PressurePa) <= least {
			best, least = p, abs(r.Mean-l.rec.Pump.PressurePa)
		}
	}
	if best == nil {
		l.refuse("no point near plate pressure")
	}
	return best, best != nil
}

func (l *look) hydraulicW() (float64, bool) {
	p, ok := l.platePoint()
	if !ok {
		return 0, false
	}
	q, ok1 := l.at(p, frame.Flow)
	d, ok2 := l.dropPa(p)
	return q * d, ok1 && ok2
}

// inputW is voltage times current times the stated power factor.
func (l *look) inputW() (float64, bool) {
	p, ok := l.platePoint()
	if !ok {
		return 0, false
	}
	u, ok1 := l.at(p, frame.SupplyVoltage)
	i, ok2 := l.at(p, frame.MotorCurrent)
	f, ok3 := l.powerFactor()
	return u * i * f, ok1 && ok2 && ok3
}

// npshFall is the fall of capacity at which a pump's NPSH required is read.
// Source: the usual criterion for reciprocating pumps, 3 %; from memory.
const npshFall = 0.03

// npshA is the head over boiling at the inlet in a point.
func (l *look) npshA(p *Point) (float64, bool) {
	gauge, ok1 := l.at(p, frame.InletPressure)
	temp, ok2 := l.at(p, frame.WaterTemp)
	q, ok3 := l.at(p, frame.Flow)
	airPa, ok4 := l.airPa(p)
	if !ok1 || !ok2 || !ok3 || !ok4 {
		return 0, false
	}
	vapour, density, ok := l.waterAt(temp)
	if !ok {
		return 0, false
	}
	in := suction.Inlet{GaugePa: gauge, AirPa: airPa, VapourPa: vapour, DensityKgM3: density}
	if b := l.rec.BoreM; b > 0 {
		in.VelocityMS = q / (math.Pi / 4 * b * b)
	}
	h, ok := suction.AvailableM(in)
	if !ok {
		return l.refuse("the head at the inlet is out of range")
	}
	return h, true
}

// fall is how much of the capacity for each turn a point lacks against the
// first one of the inlet test. As the inlet's pressure falls the pump lifts the
// water further and more of it slips back; that part, by the load points' line,
// is none of the inlet's doing and is taken out.
func (l *look) fall(first, p *Point) (float64, bool) {
	e0, ok0 := l.efficiencyOf(first)
	e, ok1 := l.efficiencyOf(p)
	d0, ok2 := l.dropPa(first)
	d, ok3 := l.dropPa(p)
	if !ok0 || !ok1 || !ok2 || !ok3 || e0 <= 0 {
		return 0, false
	}
	line, ok := l.efficiencyLine()
	if !ok {
		line.Slope = 0 // without load points nobody knows the slip
	}
	return 1 - (e-line.Slope*(d-d0))/e0, true
}

// npshRequired reads the head at a fall of 3 % between the two points around
// it.
func (l *look) npshRequired() (float64, bool) {
	b := l.around()
	first, before, after := b.first, b.before, b.after
	if !b.ok {
		return l.refuse("the inlet test doesn't reach a fall of 3 %")
	}
	a0, ok0 := l.npshA(before)
	a1, ok1 := l.npshA(after)
	f0, ok2 := l.fall(first, before)
	f1, ok3 := l.fall(first, after)
	if !ok0 || !ok1 || !ok2 || !ok3 {
		return 0, false
	}
	return between(a0, a1, f0, f1)
}

// powerLawFrom is the least fall from which a power law can be drawn: below it
// noise rules.
const powerLawFrom = 0.008

// between follows a power law from one point to the other, or a straight line
// where the first has hardly fallen.
func between(a0, a1, f0, f1 float64) (float64, bool) {
	if !(f1 > f0) || !(a0 > 0 && a1 > 0) {
		return 0, false
	}
	if f0 < powerLawFrom {
		return straight(a0, a1, f0, f1), true
	}
	t := math.Log(npshFall/f0) / math.Log(f1/f0)
	return a0 * math.Pow(a1/a0, t), true
}

func straight(a0, a1, f0, f1 float64) float64 { return a0 + (npshFall-f0)/(f1-f0)*(a1-a0) }

// rawFall is the fall by the bare means, to choose points by; 0 where it can't
// be had.
func (r *Record) rawFall(first, p *Point) float64 {
	l := &look{sh: &sheet{index: map[inputKey]int{}}, rec: r}
	f, ok := l.fall(first, p)
	if !ok {
		return 0
	}
	return f
}

// inletFell reports whether the newest inlet point has fallen far enough.
func (r *Record) inletFell() bool {
	ps := r.of(Inlet)
	return len(ps) >= 2 && r.rawFall(ps[0], ps[len(ps)-1]) >= r.Plan.InletFall
}

// inletBracket returns the first inlet point and the two around 3 %.
func (r *Record) inletBracket() (first, before, after *Point, ok bool) {
	ps := r.of(Inlet)
	for i := 1; i < len(ps); i++ {
		if r.rawFall(ps[0], ps[i]) >= npshFall {
			return ps[0], ps[i-1], ps[i], i > 1
		}
	}
	return nil, nil, nil, false
}
