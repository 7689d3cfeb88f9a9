package cavitation

import "fmt"

// Reading is one measured or computed quantity. The zero value is a sign that
// is not fitted.
type Reading struct {
	// Value counts only where Known holds.
	Value float64
	// Fitted says that a sensor for it is fitted, Known that it has a value now.
	Fitted, Known bool
}

// Known returns a reading with a value.
func Known(value float64) Reading { return Reading{Value: value, Fitted: true, Known: true} }

// Unknown returns the reading of a sensor that is fitted and has no value now.
func Unknown() Reading { return Reading{Fitted: true} }

// Inputs is what is known at one moment.
type Inputs struct {
	// Delivering says that the pump turns at speed with its outlet open to the
	// work: not starting, not priming, not in bypass.
	Delivering bool
	// MarginM is the NPSH margin in m at its best: without the acceleration
	// head where that is only an upper bound. It is what speaks.
	MarginM Reading
	// LowMarginM is the margin in m at its worst. Only where it too is above
	// the threshold are the margin and the temperature called silent; otherwise
	// they are undecided. The same as MarginM where the margin is one number.
	LowMarginM Reading
	// MarginAssumed says that NPSHR is assumed: the margin and the temperature
	// headroom may then speak, and never strongly.
	MarginAssumed bool
	// CoolMarginM is MarginM as it would be with the same pressures and cool
	// water, in m. It decides the cause alone.
	CoolMarginM Reading
	// InletGaugePa is the mean inlet gauge pressure in Pa. It decides the cause
	// alone, since the margin holds it already.
	InletGaugePa Reading
	// TempHeadroomK is the temperature at which MarginM is gone less the
	// water's, in K.
	TempHeadroomK Reading
	// FlowDeficit is the share of the ideal flow that is missing, see
	// Shortfall; FlowSwing the flow's RMS over its own baseline, see Rise.
	FlowDeficit, FlowSwing Reading
	// CurrentDrop is the share of the motor current that is missing against
	// what this outlet pressure used to take; CurrentSwing its RMS over its own
	// baseline.
	CurrentDrop, CurrentSwing Reading
	// PulsationRise is the RMS of the inlet pressure around its mean over its
	// own baseline; PulsationDepth the same RMS over the absolute mean.
	PulsationRise, PulsationDepth Reading
	// VibrationRise is the RMS vibration over its own baseline.
	VibrationRise Reading
}

// Rules judges by one set of thresholds. Make it with New; the zero value
// judges nothing.
type Rules struct {
	config Config
	made   bool
}

// New returns rules with the thresholds of c. A threshold that is no number,
// out of its sign's range or on the wrong side is an error that names it.
func New(c Config) (Rules, error) {
	if err := c.validate(); err != nil {
		return Rules{}, fmt.Errorf("cannot make the cavitation rules: %w", err)
	}
	return Rules{config: c, made: true}, nil
}

// assumedCap keeps a sign that rests on an assumption between speaking and
// speaking strongly.
const assumedCap = 0.75

// Judge returns the verdict for one moment. It is pure and allocates nothing.
// A reading that is no number or beyond any sensible range counts as no
// reading. More signs or stronger ones never lower the grade, and a reading
// that goes missing never raises it.
func (r Rules) Judge(in Inputs) Verdict {
	switch {
	case !r.made:
		return refused(NotConfigured)
	case !in.Delivering:
		return refused(NotDelivering)
	}
	var v Verdict
	var now, best levels
	for i := range v.Findings {
		f := &v.Findings[i]
		*f = r.find(Item(i), &in)
		now.add(f.Item, f.State, levelOf(f.Strength))
		best.add(f.Item, f.State, in.reachable(f.Item))
	}
	v.Grade, v.Reachable = now.grade(), best.grade()
	if v.Grade == CannotJudge {
		v.Reason = TooLittleKnown
	}
	v.OnAssumption = in.onAssumption(v.Findings[NPSHMargin].State)
	v.Cause = r.cause(&in, &v)
	return v
}

// refused is a verdict that judges nothing and still names the signs.
func refused(why Reason) Verdict {
	v := Verdict{Reason: why}
	for i := range v.Findings {
		v.Findings[i].Item = Item(i)
	}
	return v
}

// find compares one sign with its thresholds.
func (r *Rules) find(i Item, in *Inputs) Finding {
	reading := in.reading(i)
	f := Finding{Item: i, Limit: r.config.Limits[i]}
	if !reading.Fitted && !reading.Known {
		return f
	}
	low, high := i.bounds()
	if !reading.Known || !between(reading.Value, low, high) {
		f.State = NoReading
		return f
	}
	f.Quantity = reading.Value
	f.Strength = f.Limit.strength(reading.Value)
	if i.falling() && in.MarginAssumed && f.Strength > assumedCap {
		f.Strength = assumedCap
	}
	switch {
	case levelOf(f.Strength) != quiet:
		f.State = Speaks
	case i.falling() && !r.surelySilent(in.LowMarginM):
		f.State = Undecided
	default:
		f.State = Silent
	}
	return f
}

// surelySilent says whether the margin at its worst is silent too.
func (r *Rules) surelySilent(worst Reading) bool {
	low, high := NPSHMargin.bounds()
	return worst.Known && between(worst.Value, low, high) &&
		levelOf(r.config.Limits[NPSHMargin].strength(worst.Value)) == quiet
}

// strength is 0.5 at Speaks and 1 at Strong, straight between and below, and
// stays within 0 and 1.
func (l Limit) strength(x float64) float64 {
	s := 0.5 + float64(0.5*((x-l.Speaks)/(l.Strong-l.Speaks)))
	switch {
	case s >= 1:
		return 1
	case s >= 0:
		return s
	}
	return 0
}

// reading returns the quantity of one sign.
func (in *Inputs) reading(i Item) Reading {
	switch i {
	case NPSHMargin:
		return in.MarginM
	case TempHeadroom:
		return in.TempHeadroomK
	case FlowDeficit:
		return in.FlowDeficit
	case FlowSwing:
		return in.FlowSwing
	case CurrentDrop:
		return in.CurrentDrop
	case CurrentSwing:
		return in.CurrentSwing
	case PulsationRise:
		return in.PulsationRise
	case PulsationDepth:
		return in.PulsationDepth
	case VibrationRise:
		return in.VibrationRise
	}
	return Reading{}
}

// reachable is the level that a sign could reach.
func (in *Inputs) reachable(i Item) level {
	if i.falling() && in.MarginAssumed {
		return speaking
	}
	return strong
}

// onAssumption says whether the margin has a reading and is not sure.
func (in *Inputs) onAssumption(margin State) bool {
	switch margin {
	case Undecided:
		return true
	case Silent, Speaks:
		return in.MarginAssumed
	}
	return false
}
