package nozzle

import "math"

// MaxGroups is how many kinds of jets a head can have.
const MaxGroups = 4

// Group is a number of equal round jets at one angle.
type Group struct {
	// Count of jets, 1..64; a group with 0 is empty.
	Count int
	// DiameterM of each hole, m, in (0, 0.05].
	DiameterM float64
	// AngleRad is the angle between the jet and the axis of the hose, rad:
	// 0..pi/2 off the straight line ahead (Forward) or back.
	AngleRad float64
	// Forward jets push the head back; the others pull it into the line.
	Forward bool
}

// Head is a jetting head or a spray nozzle.
type Head struct {
	Groups [MaxGroups]Group
	// Cd is the discharge coefficient, (0, 1]: 0.9 rounded, 0.8 square edged,
	// 0.7 projecting. Source: NFPA 291 4.9 for outlets of hydrants; for a
	// jetting head it is an assumption until measured.
	Cd float64
}

// Area returns the open area of all jets in m2. ok=false without a jet or with
// a group outside its range. Source: geometry.
func (h Head) Area() (areaM2 float64, ok bool) {
	sum := 0.0
	for _, g := range h.Groups {
		if g.Count == 0 {
			continue
		}
		if g.Count < 0 || g.Count > 64 || !within(g.DiameterM, 1e-6, 0.05) {
			return 0, false
		}
		sum += float64(float64(g.Count) * area(g.DiameterM))
	}
	return keep(sum, 1e-14, 0.02)
}

// Factor returns the head's factor in m3/s per root pascal for a water density
// in kg/m3: jets side by side add their areas.
func (h Head) Factor(densityKgM3 float64) (factor float64, ok bool) {
	a, ok := h.Area()
	if !ok {
		return 0, false
	}
	return Factor(h.Cd, a, densityKgM3)
}

// Pull returns the thrust that pulls the head into the line, in N, at a
// pressure difference across it in Pa: the jets' reactions times the cosine of
// their angle, rear jets plus and forward jets minus. A negative value pushes
// the head back at the one who holds it. The angle's range is 0..pi/2. It is
// the force of still jets: in the line the drag of the hose and the water in it
// act against it. Source: momentum balance, any text on fluid mechanics.
func (h Head) Pull(dropPa float64) (pullN float64, ok bool) {
	if _, ok := h.Area(); !ok || !within(h.Cd, 1e-6, 1) || !within(dropPa, 0, MaxPressurePa) {
		return 0, false
	}
	sum := 0.0
	for _, g := range h.Groups {
		if g.Count == 0 {
			continue
		}
		if !within(g.AngleRad, 0, math.Pi/2) {
			return 0, false
		}
		// rho Q v = rho (cd A v) v with v^2 = 2 dp / rho.
		f := 2 * dropPa * h.Cd * float64(g.Count) * area(g.DiameterM) * cosine(g.AngleRad)
		if g.Forward {
			f = -f
		}
		sum += f
	}
	return sum, true
}

// cosine for 0..pi/2 by 1 - 2 sin^2(x/2) and the Taylor series of the sine, the
// same bits on every machine. With x/2 <= 0.786 the tenth term is below 1e-18.
func cosine(x float64) float64 {
	h := x / 2
	h2 := square(h)
	s := 1.0
	for n := 18.0; n >= 2; n -= 2 {
		s = 1 - float64(float64(h2*s)/float64(n*(n+1)))
	}
	s *= h
	return 1 - float64(2*square(s))
}
