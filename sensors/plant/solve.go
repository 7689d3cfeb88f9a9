package plant

import "math"

// The two pressures at the end of the step are sought so that each hose's
// spring takes up exactly what flows into it (backward Euler, which stays
// stable however soft the water is). More pressure in one node never lets less
// out of it nor more out of the other, so going to and fro between the nodes
// converges from anywhere (an M-function; Ortega and Rheinboldt, Iterative
// Solution of Nonlinear Equations). Whatever rest remains shifts a pressure by
// less than a millipascal; the water itself is counted from the flows.
const (
	restM3s   = 1e-12
	maxSweeps = 60
	maxSteps  = 100
)

func (h *hydro) solve() {
	if h.bypassing {
		// What the pump takes comes back, so neither node sees it.
		h.inletPa = h.root(inletNode, h.inletPa)
		h.outletPa = h.root(outletNode, h.outletPa)
		return
	}
	for range maxSweeps {
		h.inletPa = h.root(inletNode, h.inletPa)
		if math.Abs(h.excess(outletNode, h.outletPa)) < restM3s {
			return
		}
		h.outletPa = h.root(outletNode, h.outletPa)
		if math.Abs(h.excess(inletNode, h.inletPa)) < restM3s {
			return
		}
	}
}

// node names one of the two unknowns.
type node uint8

const (
	inletNode node = iota
	outletNode
)

// excess is what leaves a node beyond what enters it, at a trial pressure. It
// rises with the pressure.
func (h *hydro) excess(n node, pa float64) float64 {
	if n == inletNode {
		x := h.inletPerS*(pa-h.inlet0) - h.drawn(pa) + h.spilled(pa)
		if h.bypassing {
			return x
		}
		q := h.pump(pa, h.outletPa)
		return x + q - h.round(h.outletPa, q)
	}
	x := h.outletPerS*(pa-h.outlet0) + h.out.flow(pa) + h.burst.flow(pa) + h.packing.flow(pa)
	if h.bypassing {
		return x
	}
	q := h.pump(h.inletPa, pa)
	return x - q + h.round(pa, q)
}

// bracket returns pressures between which the root must lie.
func (h *hydro) bracket(n node) (lo, hi float64) {
	if n == inletNode {
		return h.vapour, math.Max(h.inlet0, h.source) + h.idealM3s/h.inletPerS + 1
	}
	return math.Min(h.outlet0, 0), math.Max(h.outlet0, h.inletPa) + h.idealM3s/h.outletPerS + 1
}

// root finds the pressure without excess by Newton's method from a first
// guess, and by halving the bracket wherever Newton would leave it or did not
// halve the excess: near boiling the flow rises so steeply that it creeps.
func (h *hydro) root(n node, x float64) float64 {
	lo, hi := h.bracket(n)
	if n == inletNode && h.inlet0 < lo && h.excess(n, lo) >= 0 {
		return lo // the hollow does not fill within this step
	}
	x = math.Min(math.Max(x, lo), hi)
	last := math.Inf(1)
	for range maxSteps {
		f := h.excess(n, x)
		if math.Abs(f) < restM3s/4 {
			return x
		}
		if f > 0 {
			hi = x
		} else {
			lo = x
		}
		const dPa = 0.5
		slope := (h.excess(n, x+dPa) - f) / dPa
		next := x - f/slope
		if !(slope > 0 && next > lo && next < hi) || math.Abs(f) > last/2 {
			next = (lo + hi) / 2
		}
		if next == x {
			return x
		}
		x, last = next, math.Abs(f)
	}
	return x
}
