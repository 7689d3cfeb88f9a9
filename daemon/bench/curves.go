package bench

import (
	"headroom/rules/frame"
	"headroom/rules/gum"
	"headroom/rules/units"
)

// Curve is one quantity against another, for a picture, in SI.
type Curve struct {
	Name, XLabel, YLabel string
	XQuantity, YQuantity units.Quantity
	Points               []CurvePoint
	Lines                []CurveLine
}

// CurvePoint carries its expanded uncertainties at Level; Apart marks a point
// that the line doesn't count.
type CurvePoint struct {
	X, Y, UX, UY float64
	Apart        bool
}

// CurveLine is a fitted line, or one of the plate.
type CurveLine struct {
	X, Y  []float64
	Plate bool
	Label string
}

// expanded is the uncertainty of a model of one point.
func (r *Record) expanded(f func(l *look) (float64, bool)) (v, u float64, ok bool) {
	sh := &sheet{}
	full, why := sh.evaluate(func(x []float64) (float64, bool) { return f(&look{sh: sh, rec: r, x: x}) })
	if why != "" {
		return 0, 0, false
	}
	i, ok := full.Expand(Level)
	return i.Value, i.U, ok
}

// Curves are those that a certificate and a page draw.
func (r *Record) Curves() []Curve {
	out := []Curve{r.flowCurve(), r.efficiencyCurve(), r.currentCurve()}
	if c := r.inletCurve(); len(c.Points) > 0 {
		out = append(out, c)
	}
	return out
}

func (r *Record) curvePoints(ps []*Point, fx, fy func(l *look, p *Point) (float64, bool)) (out []CurvePoint) {
	for _, p := range ps {
		x, ux, okX := r.expanded(func(l *look) (float64, bool) { return fx(l, p) })
		y, uy, okY := r.expanded(func(l *look) (float64, bool) { return fy(l, p) })
		if okX && okY {
			out = append(out, CurvePoint{X: x, Y: y, UX: ux, UY: uy})
		}
	}
	return out
}

// drawn draws a fitted line from no pressure to the highest point.
func drawn(l gum.Line, ok bool, ps []CurvePoint, scale float64) []CurveLine {
	if !ok || len(ps) == 0 {
		return nil
	}
	top := 0.0
	for _, p := range ps {
		top = max(top, p.X)
	}
	return []CurveLine{{X: []float64{0, top}, Y: []float64{scale * l.Intercept, scale * (l.Intercept + l.Slope*top)}}}
}

func (r *Record) nominal() *look { return &look{sh: &sheet{index: map[inputKey]int{}}, rec: r} }

func (r *Record) flowCurve() Curve {
	p := &r.Pump
	swept := p.DisplacementM3 * p.SpeedHz
	c := Curve{Name: "Flow at plate speed against pressure rise", XLabel: "pressure rise", YLabel: "flow", XQuantity: units.Pressure, YQuantity: units.FlowRate}
	c.Points = r.curvePoints(r.of(NoLoad, Load), (*look).dropPa, func(l *look, p *Point) (float64, bool) {
		e, ok := l.efficiencyOf(p)
		return e * swept, ok
	})
	line, ok := r.nominal().efficiencyLine()
	c.Lines = drawn(line, ok, c.Points, swept)
	if len(c.Points) > 0 {
		c.Lines = append(c.Lines, CurveLine{X: []float64{0, p.PressurePa}, Y: []float64{p.FlowM3s, p.FlowM3s}, Plate: true, Label: "plate"})
	}
	return c
}

func (r *Record) efficiencyCurve() Curve {
	c := Curve{Name: "Volumetric efficiency against pressure rise", XLabel: "pressure rise", YLabel: "efficiency", XQuantity: units.Pressure, YQuantity: units.Fraction}
	c.Points = r.curvePoints(r.of(NoLoad, Load), (*look).dropPa, (*look).efficiencyOf)
	line, ok := r.nominal().efficiencyLine()
	c.Lines = drawn(line, ok, c.Points, 1)
	return c
}

func (r *Record) currentCurve() Curve {
	c := Curve{Name: "Motor current against outlet pressure", XLabel: "outlet pressure", YLabel: "current", XQuantity: units.Pressure, YQuantity: units.Current}
	c.Points = r.curvePoints(r.of(NoLoad, Load, Own, Unloader),
		func(l *look, p *Point) (float64, bool) { return l.at(p, frame.OutletPressure) },
		func(l *look, p *Point) (float64, bool) { return l.at(p, frame.MotorCurrent) })
	line, ok := r.nominal().currentLine()
	c.Lines = drawn(line, ok, c.Points, 1)
	return c
}

// inletCurve shows what is left of the capacity against the head at the inlet;
// the first point, with the valve open, lies far to the right and is left out.
func (r *Record) inletCurve() Curve {
	c := Curve{Name: "Capacity left against the head over boiling at the inlet", XLabel: "head over boiling", YLabel: "capacity", XQuantity: units.Head, YQuantity: units.Fraction}
	ps := r.of(Inlet)
	if len(ps) < 2 {
		return c
	}
	c.Points = r.curvePoints(ps[1:], (*look).npshA, func(l *look, p *Point) (float64, bool) {
		f, ok := l.fall(ps[0], p)
		return 1 - f, ok
	})
	if len(c.Points) > 0 {
		lo, hi := c.Points[0].X, c.Points[0].X
		for _, p := range c.Points {
			lo, hi = min(lo, p.X), max(hi, p.X)
		}
		c.Lines = append(c.Lines, CurveLine{X: []float64{lo, hi}, Y: []float64{1 - npshFall, 1 - npshFall}, Plate: true, Label: "3 % less"})
	}
	return c
}
