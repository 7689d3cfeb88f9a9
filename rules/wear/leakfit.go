package wear

import "math"

// The judgement asks for two standard deviations, about 95 %, to name anything,
// and refuses a fit whose scatter exceeds the stated noise by three.
const (
	sureSigmas    = 2
	scatterSigmas = 3
	// alike is the share of the determinant below which the two columns
	// are taken for parallel.
	alike = 1e-6
)

// Judge fits slip = valves sqrt(dp) + packing dp/viscosity by least squares
// and names the larger part if the readings bear it out.
//
// An opening that stays open passes flow as an orifice does, Q ~ sqrt(dp); a
// narrow clearance passes it in layers, Q ~ dp/viscosity. Both are the ends of
// a range: a worn packing whose gap has become wide turns turbulent and then
// looks like a valve, so the verdict says where to look first and not more.
// Source: Bernoulli's orifice and Hagen-Poiseuille flow in a narrow gap, any
// textbook of fluid mechanics; least squares, any textbook of statistics.
func (e *Evidence) Judge() Leak {
	ref, ok := e.reference()
	if !ok {
		return Leak{}
	}
	f := e.sums(ref)
	det := float64(f.vv*f.pp) - float64(f.vp*f.vp)
	if !(det > alike*f.vv*f.pp) {
		return Leak{Cause: e.causeIfAlike(f)}
	}
	valve := (float64(f.vq*f.pp) - float64(f.pq*f.vp)) / det
	packing := (float64(f.pq*f.vv) - float64(f.vq*f.vp)) / det
	l := Leak{ValveM3s: valve, PackingM3s: packing, DropPa: ref.DropPa}
	scale := e.SigmaM3s / math.Sqrt(det)
	l.Sigmas = (valve - packing) / (scale * math.Sqrt(f.vv+f.pp+float64(2*f.vp)))
	noise := float64(scale * math.Sqrt(f.vv+f.pp-float64(2*f.vp)))
	weak := min(valve/math.Sqrt(f.pp), packing/math.Sqrt(f.vv)) / scale
	switch {
	case e.scatter(ref, valve, packing):
		l.Cause = CauseCannotTell
	case e.trifling(valve+packing, noise):
		l.Cause = CauseNone
	case valve+packing <= sureSigmas*noise:
		l.Cause = CauseCannotTell
	default:
		l.Cause = e.name(l, weak)
	}
	return l
}

// trifling reports a slip surely below what matters, and not surely negative,
// which would mean a meter or displacement that is off.
func (e *Evidence) trifling(slip, noise float64) bool {
	return slip+float64(sureSigmas*noise) <= e.MatterM3s &&
		slip >= -sureSigmas*noise
}

// name turns a slip that is there into a cause; weak is the smaller part in
// standard deviations.
func (e *Evidence) name(l Leak, weak float64) Cause {
	switch {
	case weak < -sureSigmas:
		// A part that is surely negative means that the law is another.
		return CauseCannotTell
	case l.Sigmas > sureSigmas:
		return CauseValves
	case l.Sigmas < -sureSigmas && e.PackingSeen:
		return CausePacking
	}
	return CauseCannotTell
}

// causeIfAlike judges readings at one and the same state: whether the slip
// matters can be told, where it comes from cannot.
func (e *Evidence) causeIfAlike(f fitSums) Cause {
	if e.trifling(f.vq/f.vv, e.SigmaM3s/math.Sqrt(f.vv)) {
		return CauseNone
	}
	return CauseCannotTell
}

// fitSums are the sums of the normal equations; v the valve column, p the
// packing column, q the slip.
type fitSums struct{ vv, pp, vp, vq, pq float64 }

// reference is the reading at the highest pressure. ok is false where the set
// is too small or holds a broken reading.
func (e *Evidence) reference() (ref Slip, ok bool) {
	if e.N < 3 || e.N > MaxSlips || !within(e.SigmaM3s, 1e-12, maxFlowM3s) ||
		!within(e.MatterM3s, 0, maxFlowM3s) {
		return Slip{}, false
	}
	for i := range e.Points[:e.N] {
		s := e.Points[i]
		if !s.valid() {
			return Slip{}, false
		}
		if s.DropPa > ref.DropPa {
			ref = s
		}
	}
	return ref, true
}

// columns are the two laws at a reading, 1 at the reference.
func columns(s, ref Slip) (valve, packing float64) {
	r := s.DropPa / ref.DropPa
	return math.Sqrt(r), r * ref.ViscosityPaS / s.ViscosityPaS
}

func (e *Evidence) sums(ref Slip) (f fitSums) {
	for i := range e.Points[:e.N] {
		v, p := columns(e.Points[i], ref)
		q := e.Points[i].SlipM3s
		f.vv += float64(v * v)
		f.pp += float64(p * p)
		f.vp += float64(v * p)
		f.vq += float64(v * q)
		f.pq += float64(p * q)
	}
	return f
}

// scatter reports whether the readings miss the fit by more than their noise
// explains: chi squared beyond its mean by three of its standard deviations.
func (e *Evidence) scatter(ref Slip, valve, packing float64) bool {
	chi := 0.0
	for i := range e.Points[:e.N] {
		v, p := columns(e.Points[i], ref)
		r := (e.Points[i].SlipM3s - float64(valve*v) - float64(packing*p)) / e.SigmaM3s
		chi += float64(r * r)
	}
	dof := float64(e.N - 2)
	return chi > dof+float64(scatterSigmas*math.Sqrt(2*dof))
}
