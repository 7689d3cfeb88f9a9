package supply

import (
	"math"

	"headroom/rules/detmath"
)

// flowExponent is the exponent of hydrant flow testing, 0.54, about 1/1.85 of
// Hazen and Williams. Source: NFPA 291.
const flowExponent = 0.54

// Method is one of the two curves.
type Method uint8

// The curves.
const (
	// PowerLaw: Q = Qf (hr/hf)^0.54 from the static reading and the flowing
	// reading with the largest flow. Source: NFPA 291.
	PowerLaw Method = iota
	// Square: p = p0 - k Q^2, through the static and the flowing reading, or
	// by least squares through all three. Source: fully rough flow in hose,
	// valve and meter; any text on pipe flow.
	Square
)

// PowerFlow returns the flow in m3/s that brings the pressure from static down
// to wanted, when flow testM3s brought it down to flowing (all Pa gauge):
// testM3s ((static-wanted)/(static-flowing))^0.54. A wanted pressure at or above
// the static one gives 0. ok=false when the flowing pressure isn't below the
// static one, or an input is outside the package's range. Source: NFPA 291.
func PowerFlow(staticPa, flowingPa, testM3s, wantedPa float64) (flowM3s float64, ok bool) {
	hf := staticPa - flowingPa
	if !within(staticPa, 0, MaxPressurePa) || !within(flowingPa, vacuumPa, MaxPressurePa) || !(hf > 0) ||
		!within(testM3s, MinFlowM3s, MaxFlowM3s) || !within(wantedPa, vacuumPa, MaxPressurePa) {
		return 0, false
	}
	hr := staticPa - wantedPa
	if hr <= 0 {
		return 0, true
	}
	q := float64(testM3s * detmath.Pow(hr/hf, flowExponent))
	return flowOrRefuse(q)
}

// PowerPressure is the inverse of PowerFlow: the gauge pressure left at a flow.
// ok=false as for PowerFlow, and where the pressure would lie below a vacuum.
func PowerPressure(staticPa, flowingPa, testM3s, flowM3s float64) (gaugePa float64, ok bool) {
	hf := staticPa - flowingPa
	if !within(staticPa, 0, MaxPressurePa) || !within(flowingPa, vacuumPa, MaxPressurePa) || !(hf > 0) ||
		!within(testM3s, MinFlowM3s, MaxFlowM3s) || !within(flowM3s, 0, MaxFlowM3s) {
		return 0, false
	}
	p := staticPa - float64(hf*detmath.Pow(flowM3s/testM3s, 1/flowExponent))
	return pressureOrRefuse(p)
}

// Quadratic is the curve p = P0Pa - K q^2: P0Pa in Pa gauge, K in Pa/(m3/s)^2.
type Quadratic struct{ P0Pa, K float64 }

// FitQuadratic fits the quadratic to a test: through the static and one flowing
// reading exactly, or to the static and two flowing readings by least squares
// of the pressure on the square of the flow, each reading with the same weight
// since one sensor took them. ok=false when Check refuses the test or the
// fitted K isn't positive. Source: linear least squares, any text on statistics.
func FitQuadratic(t Test) (Quadratic, bool) {
	if s, _ := t.Check(); s != OK {
		return Quadratic{}, false
	}
	return t.fit()
}

// fit is FitQuadratic without the check, so that the tolerances can move the
// readings. The squares are scaled by the largest flow to stay near 1.
func (t Test) fit() (Quadratic, bool) {
	top := t.Flowing[t.largest()].FlowM3s
	if !within(top, MinFlowM3s/2, 2*MaxFlowM3s) {
		return Quadratic{}, false
	}
	n, sx, sp := 1.0, 0.0, t.StaticGaugePa
	var x [2]float64
	for i := 0; i < t.Count; i++ {
		r := t.Flowing[i].FlowM3s / top
		x[i] = float64(r * r)
		n, sx, sp = n+1, sx+x[i], sp+t.Flowing[i].InletGaugePa
	}
	mx, mp := sx/n, sp/n
	sxx := float64(mx * mx)
	sxp := float64(-mx * (t.StaticGaugePa - mp))
	for i := 0; i < t.Count; i++ {
		d := x[i] - mx
		sxx += float64(d * d)
		sxp += float64(d * (t.Flowing[i].InletGaugePa - mp))
	}
	slope := sxp / sxx
	k := -slope / float64(top*top)
	if !(k > 0) || !finite(k) {
		return Quadratic{}, false
	}
	return Quadratic{P0Pa: mp - float64(slope*mx), K: k}, true
}

// Flow returns the flow in m3/s at a wanted gauge pressure; 0 at or above P0Pa.
// ok=false outside the package's range or when K isn't positive.
func (c Quadratic) Flow(wantedPa float64) (flowM3s float64, ok bool) {
	if !(c.K > 0) || !finite(c.K) || !finite(c.P0Pa) || !within(wantedPa, vacuumPa, MaxPressurePa) {
		return 0, false
	}
	if wantedPa >= c.P0Pa {
		return 0, true
	}
	return flowOrRefuse(math.Sqrt((c.P0Pa - wantedPa) / c.K))
}

// Pressure returns the gauge pressure left at a flow in m3/s; ok=false outside
// the range or where the pressure would lie below a vacuum.
func (c Quadratic) Pressure(flowM3s float64) (gaugePa float64, ok bool) {
	if !(c.K > 0) || !within(flowM3s, 0, MaxFlowM3s) {
		return 0, false
	}
	return pressureOrRefuse(c.P0Pa - float64(c.K*float64(flowM3s*flowM3s)))
}

// Flow returns the flow at a wanted gauge pressure by a curve through the test.
// ok=false when Check refuses the test or the curve its range.
func (t Test) Flow(m Method, wantedPa float64) (flowM3s float64, ok bool) {
	if s, _ := t.Check(); s != OK {
		return 0, false
	}
	return t.flow(m, wantedPa)
}

// Pressure returns the gauge pressure left at a flow by a curve through the
// test. ok=false when Check refuses the test or the curve its range.
func (t Test) Pressure(m Method, flowM3s float64) (gaugePa float64, ok bool) {
	if s, _ := t.Check(); s != OK {
		return 0, false
	}
	return t.pressure(m, flowM3s)
}

func (t Test) flow(m Method, wantedPa float64) (float64, bool) {
	if m == Square {
		c, ok := t.fit()
		if !ok {
			return 0, false
		}
		return c.Flow(wantedPa)
	}
	r := t.Flowing[t.largest()]
	return PowerFlow(t.StaticGaugePa, r.InletGaugePa, r.FlowM3s, wantedPa)
}

func (t Test) pressure(m Method, flowM3s float64) (float64, bool) {
	if m == Square {
		c, ok := t.fit()
		if !ok {
			return 0, false
		}
		return c.Pressure(flowM3s)
	}
	r := t.Flowing[t.largest()]
	return PowerPressure(t.StaticGaugePa, r.InletGaugePa, r.FlowM3s, flowM3s)
}

func flowOrRefuse(q float64) (float64, bool) {
	if !within(q, 0, MaxFlowM3s) {
		return 0, false
	}
	return q, true
}

func pressureOrRefuse(p float64) (float64, bool) {
	if !within(p, vacuumPa, MaxPressurePa) {
		return 0, false
	}
	return p, true
}
