package supply

import "math"

// moves is the number of independent sensor errors: common pressure offset,
// common flow gain, and each reading's own.
const moves = 7

// moved returns the test with error i applied with the given sign, as the
// sensors would have shown it.
func (t Test) moved(i int, sign float64) Test {
	tol := t.Tolerance
	dp, gain := float64(sign*tol.PressureRepeatPa), 1+float64(sign*tol.FlowRepeat)
	switch i {
	case 0:
		all := float64(sign * tol.PressureOffsetPa)
		t.StaticGaugePa += all
		t.Flowing[0].InletGaugePa += all
		t.Flowing[1].InletGaugePa += all
	case 1:
		g := 1 + float64(sign*tol.FlowGain)
		t.Flowing[0].FlowM3s *= g
		t.Flowing[1].FlowM3s *= g
	case 2:
		t.StaticGaugePa += dp
	case 3, 4:
		t.Flowing[i-3].InletGaugePa += dp
	case 5, 6:
		t.Flowing[i-5].FlowM3s *= gain
	}
	return t
}

// quantity is what a tolerance is carried through to.
type quantity uint8

const (
	flowAtPressure quantity = iota
	pressureAtFlow
	exponent
)

// of computes a quantity from a test that may have been moved.
func (q quantity) of(t Test, m Method, at float64) (float64, bool) {
	switch q {
	case flowAtPressure:
		return t.flow(m, at)
	case pressureAtFlow:
		return t.pressure(m, at)
	}
	return t.exponent()
}

// spread carries the sensors' tolerances through to a quantity: each error is
// moved up and down by its tolerance, half the difference is its share, and the
// shares combine by the root of the sum of squares. The result has the coverage
// of the tolerances. ok=false when a moved test gives no value. Source: JCGM
// 100:2008 (GUM) 5.1.2 and the numerical form of 5.1.3, note 2.
func (t Test) spread(q quantity, m Method, at float64) (float64, bool) {
	sum := 0.0
	for i := 0; i < moves; i++ {
		up, okUp := q.of(t.moved(i, 1), m, at)
		down, okDown := q.of(t.moved(i, -1), m, at)
		if !okUp || !okDown {
			return 0, false
		}
		half := (up - down) / 2
		sum += float64(half * half)
	}
	return math.Sqrt(sum), true
}
