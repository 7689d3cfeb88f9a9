package bench

import (
	"headroom/rules/air"
	"headroom/rules/frame"
	"headroom/rules/gum"
	"headroom/rules/water"
)

// sheet is the budget of a figure over one test, or over two that are
// compared. Inputs come into it as the figure asks for them, so that each
// figure carries its own inputs and no more.
type sheet struct {
	budget gum.Budget
	index  map[inputKey]int
	// many is set where tests are compared: an instrument has moved a little
	// between them.
	many bool
	why  string
	// known and bracket spare looking up the same things in each evaluation.
	known   [3][frame.NumChannels]*known
	bracket [3]*bracket
}

// known is an instrument with the name that is the same for the same state.
type known struct {
	Instrument
	id string
}

// bracket is the inlet test's first point and the two around a fall of 3 %.
type bracket struct {
	first, before, after *Point
	ok                   bool
}

// instrument looks one up, once.
func (l *look) instrument(c frame.Channel) (*known, bool) {
	k := &l.sh.known[l.test][c]
	if *k == nil {
		i, ok := l.rec.instrument(c)
		if !ok {
			return nil, false
		}
		*k = &known{i, i.Channel + "\x00" + i.Name + "\x00" + i.Serial + "\x00" + i.Calibrated}
	}
	return *k, true
}

// around finds the inlet test's bracket, once.
func (l *look) around() *bracket {
	b := &l.sh.bracket[l.test]
	if *b == nil {
		*b = &bracket{}
		(*b).first, (*b).before, (*b).after, (*b).ok = l.rec.inletBracket()
	}
	return *b
}

// inputKey names an input: what kind, of which test and point, and which
// instrument or channel.
type inputKey struct {
	kind  inputKind
	test  int
	point int
	of    string
}

type inputKind uint8

const (
	inReading inputKind = iota
	inSlope
	inZero
	inGain
	inZeroMoved
	inGainMoved
	inEntry
	inPowerFactor
	inAir
)

// movedShare is how much of its limits of error an instrument may have moved
// between two tests with the same calibration. Common practice, no source.
const movedShare = 0.3

// airHalfPa is how far the weather may take the air pressure from that of the
// altitude. Common practice, no source.
const airHalfPa = 2500

// look reads one test through a sheet: with x nil it notes the inputs and gives
// their stated values, else it takes them from x.
type look struct {
	sh   *sheet
	test int
	rec  *Record
	x    []float64
}

// in returns an input's value, and notes it at the first time.
func (l *look) in(k inputKey, value float64, note func() (name string, parts []gum.Part)) float64 {
	i, ok := l.sh.index[k]
	switch {
	case ok && l.x != nil:
		return l.x[i]
	case !ok && l.x == nil:
		name, parts := note()
		l.sh.index[k] = l.sh.budget.Input(name, value, parts...)
	}
	return value // also on a side branch of a perturbed evaluation
}

// limits notes an error that lies within plus or minus half.
func limits(name string, half float64) func() (string, []gum.Part) {
	return func() (string, []gum.Part) { return name, []gum.Part{gum.Limits(half)} }
}

// refuse notes why a figure can't be had; the first reason stays.
func (l *look) refuse(why string) (float64, bool) {
	if l.sh.why == "" {
		l.sh.why = why
	}
	return 0, false
}

// at returns a channel's mean in a point, freed of the instrument's errors.
func (l *look) at(p *Point, c frame.Channel) (float64, bool) {
	r, ok := p.Find(c)
	if !ok {
		return l.refuse(c.Label() + " was not good in " + p.Step)
	}
	i, ok := l.instrument(c)
	if !ok {
		return l.refuse("no instrument is stated for " + c.Label())
	}
	raw := l.in(inputKey{inReading, l.test, int(p.From), c.String()}, r.Mean, func() (string, []gum.Part) {
		return c.Label() + ", scatter in " + p.Step, r.scatter(i.Step)
	})
	zero, gain := l.errors(i)
	base := raw
	if c == frame.WaterTemp || c == frame.AmbientTemp {
		base -= 273.15 // a thermometer's gain error grows from the ice point
	}
	return raw - zero - gain*base, true
}

// errors are an instrument's lasting errors, and what has moved between tests.
func (l *look) errors(i *known) (zero, gain float64) {
	id := i.id
	if i.Zero > 0 {
		zero = l.in(inputKey{kind: inZero, of: id}, 0, func() (string, []gum.Part) {
			return i.Channel + ", zero", []gum.Part{gum.Limits(i.Zero)}
		})
	}
	if i.Gain > 0 {
		gain = l.in(inputKey{kind: inGain, of: id}, 0, func() (string, []gum.Part) {
			return i.Channel + ", gain", []gum.Part{gum.Limits(i.Gain)}
		})
	}
	if l.sh.many {
		zero += l.in(inputKey{inZeroMoved, l.test, 0, id}, 0, limits(i.Channel+", zero moved", movedShare*i.Zero))
		gain += l.in(inputKey{inGainMoved, l.test, 0, id}, 0, limits(i.Channel+", gain moved", movedShare*i.Gain))
	}
	return zero, gain
}

// scatter are the errors of a reading's own mean.
func (r *Reading) scatter(step float64) []gum.Part {
	var out []gum.Part
	// A series that swings slowly may be worth hardly one reading; two is the
	// least that an uncertainty can be made of, and it is a wide one.
	if p, ok := gum.ScatterOfMean(r.Spread, max(r.Effective, 2)); ok && r.Spread > 0 {
		out = append(out, p)
	}
	if step > 0 && r.Spread < step/2 {
		out = append(out, gum.Resolution(step)) // else the scatter holds it
	}
	return out
}

// slope returns how fast a channel moves in a point, per second, with its mean.
func (l *look) slope(p *Point, c frame.Channel) (perS, mean float64, ok bool) {
	r, found := p.Find(c)
	i, stated := l.instrument(c)
	if mean, ok = l.at(p, c); !ok || !found || !stated {
		return 0, 0, false
	}
	raw := l.in(inputKey{inSlope, l.test, int(p.From), c.String()}, r.Slope, func() (string, []gum.Part) {
		parts := []gum.Part{{Std: r.SlopeStd, DoF: max(r.SlopeDoF, 1)}}
		if span := (p.To - p.From).Seconds(); i.Step > 0 && r.Spread < i.Step/2 && span > 0 {
			parts = append(parts, gum.Limits(i.Step/span))
		}
		return c.Label() + ", slope in " + p.Step, parts
	})
	_, gain := l.errors(i)
	return raw * (1 - gain), mean, true
}

// told returns what a person entered.
func (l *look) told(k Kind) (float64, bool) {
	e, ok := l.rec.entry(k)
	if !ok {
		return l.refuse("not told: " + string(k))
	}
	return l.in(inputKey{kind: inEntry, test: l.test, of: string(k)}, e.Value, limits(string(k), e.Half)), true
}

// powerFactor is the plate's.
func (l *look) powerFactor() (float64, bool) {
	p := &l.rec.Pump
	if p.PowerFactor <= 0 {
		return l.refuse("the library states no power_factor")
	}
	return l.in(inputKey{kind: inPowerFactor, of: p.Name}, p.PowerFactor, limits("power factor", p.PowerFactorError)), true
}

// airPa is the barometer's, or that of the altitude.
func (l *look) airPa(p *Point) (float64, bool) {
	if _, ok := p.Find(frame.AirPressure); ok {
		if _, stated := l.rec.instrument(frame.AirPressure); stated {
			return l.at(p, frame.AirPressure)
		}
	}
	pa, ok := air.PressureAtGeometricPa(l.rec.AltitudeM)
	if !ok {
		return l.refuse("the altitude is out of range")
	}
	return l.in(inputKey{kind: inAir, test: l.test}, pa, limits("air pressure by altitude", airHalfPa)), true
}

// waterAt is vapour pressure and density at a temperature.
func (l *look) waterAt(tempK float64) (vapourPa, densityKgM3 float64, ok bool) {
	v, ok1 := water.SatPressurePa(tempK)
	d, ok2 := water.DensityKgM3(tempK, 101_325)
	if !ok1 || !ok2 {
		l.refuse("the water's temperature is out of range")
	}
	return v, d, ok1 && ok2
}

// model is a figure, or a difference of one, as a function of its inputs.
type model func(x []float64) (float64, bool)

// evaluate runs a model once to note its inputs and then for its uncertainty.
func (sh *sheet) evaluate(f model) (gum.Result, string) {
	sh.index = map[inputKey]int{}
	if _, ok := f(nil); !ok {
		return gum.Result{}, sh.reason()
	}
	r, ok := sh.budget.Evaluate(gum.Model(f))
	if !ok {
		return gum.Result{}, sh.reason()
	}
	return r, ""
}

func (sh *sheet) reason() string {
	if sh.why == "" {
		return "the readings don't give it"
	}
	return sh.why
}
