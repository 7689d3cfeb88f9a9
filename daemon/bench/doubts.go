package bench

import (
	"math"

	"headroom/rules/frame"
)

// Doubt is a channel that contradicts itself or another witness.
type Doubt struct {
	Channel frame.Channel
	Why     string
}

// doubtLevel is the level at which two witnesses contradict each other.
const doubtLevel = 0.99

// Doubts says which instruments can't be believed: a gauge that doesn't show
// nothing where there is nothing, more flow than the plungers sweep, a bucket
// or a reference gauge that says otherwise.
func (r *Record) Doubts() []Doubt {
	out := r.restDoubts()
	out = append(out, r.sweptDoubts()...)
	out = append(out, r.witness(Bucket, frame.Flow, "the bucket under the nozzle")...)
	return append(out, r.witness(Reference, frame.OutletPressure, "the reference gauge")...)
}

// doubtOf returns the first doubt about a channel that the figure needs.
func doubtOf(f Figure, doubts []Doubt) string {
	for _, c := range f.Needs() {
		for _, d := range doubts {
			if d.Channel == c {
				return d.Why
			}
		}
	}
	return ""
}

// asItWas says that a point behind the figure was taken although it wasn't
// steady or not where it should be: its errors are not known then.
func (r *Record) asItWas(f Figure) string {
	for _, p := range r.of(figures[f].points...) {
		if p.AsItIs {
			return "the point " + p.Step + " was taken as it was, not steady or not at its target"
		}
	}
	return ""
}

// restDoubts compares the gauges at rest with nothing. The limits of the zero
// error are hard ones: only scatter may add to them.
func (r *Record) restDoubts() (out []Doubt) {
	ps := r.of(Rest)
	if len(ps) == 0 {
		return nil
	}
	for _, c := range []frame.Channel{frame.OutletPressure, frame.Flow, frame.MotorCurrent, frame.ShaftSpeed} {
		m, ok := ps[0].Find(c)
		i, stated := r.instrument(c)
		if !ok || !stated {
			continue
		}
		allowed := i.Zero + i.Step + 3.3*m.Spread/math.Sqrt(max(m.Effective, 1))
		if abs(m.Mean) > allowed {
			out = append(out, Doubt{c, c.Label() + " showed " + both(c.Quantity(), m.Mean) + " at rest, where nothing was"})
		}
	}
	return out
}

// sweptDoubts finds more flow at no pressure than the plungers sweep.
func (r *Record) sweptDoubts() []Doubt {
	sh := &sheet{}
	full, why := sh.evaluate(func(x []float64) (float64, bool) {
		line, ok := (&look{sh: sh, rec: r, x: x}).efficiencyLine()
		return line.Intercept, ok
	})
	if why != "" {
		if r.sweptMore() {
			return []Doubt{{frame.Flow, "more flow than the plungers sweep: flow meter, speed or displacement is wrong"}}
		}
		return nil
	}
	i, ok := full.Expand(doubtLevel)
	if ok && full.Value-i.U > 1 {
		return []Doubt{{frame.Flow, "more flow than the plungers sweep: flow meter, speed or displacement is wrong"}}
	}
	return nil
}

// sweptMore reports a point beyond what counts as an efficiency at all.
func (r *Record) sweptMore() bool {
	for _, p := range r.of(NoLoad, Load) {
		q, ok1 := p.Find(frame.Flow)
		n, ok2 := p.Find(frame.ShaftSpeed)
		if ok1 && ok2 && q.Mean > 1.1*n.Mean*r.Pump.DisplacementM3 {
			return true
		}
	}
	return false
}

// witness compares a channel at the own nozzle with what a person told. What
// drips from the packing has passed the meter and never reached the bucket.
func (r *Record) witness(k Kind, c frame.Channel, who string) []Doubt {
	if _, ok := r.entry(k); !ok {
		return nil
	}
	sh := &sheet{}
	full, why := sh.evaluate(func(x []float64) (float64, bool) {
		l := &look{sh: sh, rec: r, x: x}
		p, ok := l.newest(Own)
		if !ok {
			return 0, false
		}
		v, ok1 := l.at(p, c)
		told, ok2 := l.told(k)
		if _, dripped := r.entry(Cup); k == Bucket && dripped {
			drip, _ := l.told(Cup)
			told += drip
		}
		return v - told, ok1 && ok2
	})
	if why != "" {
		return nil
	}
	if i, ok := full.Expand(doubtLevel); ok && abs(full.Value) > i.U {
		return []Doubt{{c, c.Label() + " and " + who + " differ by " + both(c.Quantity(), abs(full.Value)) + ", more than their errors allow"}}
	}
	return nil
}
