package bench

import (
	"math"

	"headroom/rules/gum"
)

// Level is the level of the coverage intervals that are shown.
const Level = 0.95

// Result is one figure with its uncertainty.
type Result struct {
	Figure Figure
	// OK is false where the figure can't be had; Why says so in words.
	OK  bool
	Why string
	// Value in SI, Std its standard uncertainty, U the expanded one at Level
	// with the coverage factor K, DoF the effective degrees of freedom (0 for
	// very many).
	Value, Std, U, K, DoF float64
	// Share lists what the uncertainty is made of, the largest first.
	Share []Part
	// Doubt says why an instrument behind the figure can't be believed; the
	// figure then stands for evidence only.
	Doubt string

	full gum.Result
}

// Part is one error's share of the variance of a figure.
type Part struct {
	Name  string
	Share float64
}

// Figure computes one figure of a test.
func (r *Record) Figure(f Figure) Result {
	if f >= NumFigures {
		return Result{Figure: f, Why: "unknown figure"}
	}
	sh := &sheet{}
	full, why := sh.evaluate(func(x []float64) (float64, bool) {
		return models[f](&look{sh: sh, rec: r, x: x})
	})
	if why != "" {
		return Result{Figure: f, Why: why}
	}
	if f == NPSHRequired {
		full = full.With("shape between the points", r.npshShape())
	}
	if f == FlowAtPlate || f == VolumetricEff {
		full = full.With("not a straight line", r.bent(f))
	}
	return resultOf(f, full)
}

// resultOf shows a budget's result at Level.
func resultOf(f Figure, full gum.Result) Result {
	i, ok := full.Expand(Level)
	if !ok {
		return Result{Figure: f, Why: "too few readings for an uncertainty"}
	}
	out := Result{Figure: f, OK: true, Value: full.Value, Std: full.Std, U: i.U, K: i.K, full: full}
	if !math.IsInf(full.DoF, 1) {
		out.DoF = full.DoF
	}
	sum := 0.0
	terms := full.Terms()
	for _, t := range terms {
		sum += t.Std * t.Std
	}
	byName := map[string]int{}
	for _, t := range terms {
		k, ok := byName[t.Name]
		if !ok {
			k = len(out.Share)
			byName[t.Name] = k
			out.Share = append(out.Share, Part{Name: t.Name})
		}
		out.Share[k].Share += t.Std * t.Std / sum
	}
	return out
}

// npshShape is the doubt about the curve between the two points: how far the
// power law lies from the straight line.
func (r *Record) npshShape() gum.Part {
	first, before, after, ok := r.inletBracket()
	if !ok {
		return gum.Part{}
	}
	sh := &sheet{index: map[inputKey]int{}}
	l := &look{sh: sh, rec: r}
	a0, ok0 := l.npshA(before)
	a1, ok1 := l.npshA(after)
	f0, f1 := r.rawFall(first, before), r.rawFall(first, after)
	curve, ok2 := between(a0, a1, f0, f1)
	if !ok0 || !ok1 || !ok2 {
		return gum.Part{}
	}
	if f0 < powerLawFrom {
		// Nobody knows where between the points it bends.
		return gum.Limits(abs(a0-a1) / 4)
	}
	return gum.Limits(abs(curve - straight(a0, a1, f0, f1)))
}

// bent is the error of a straight line where the load points surely don't lie
// on one: the uncertainty of the line by their scatter about it.
func (r *Record) bent(f Figure) gum.Part {
	sh := &sheet{index: map[inputKey]int{}}
	l := &look{sh: sh, rec: r}
	line, ok := l.efficiencyLine()
	if !ok || line.N < 4 {
		return gum.Part{}
	}
	random := 0.0
	for _, p := range r.of(NoLoad, Load) {
		if e, ok := l.efficiencyOf(p); ok {
			u := r.randomOf(p) * e
			random += u * u / float64(line.N)
		}
	}
	dof := float64(line.N - 2)
	if random <= 0 {
		return gum.Part{}
	}
	share, ok := gum.InsideF(line.Spread*line.Spread/random, dof, 200)
	if !ok || share < 0.999 {
		return gum.Part{}
	}
	at, ok := line.At(r.Pump.PressurePa)
	if !ok {
		return gum.Part{}
	}
	scale := 1.0
	if f == FlowAtPlate {
		scale = r.Pump.DisplacementM3 * r.Pump.SpeedHz
	}
	return gum.Part{Std: at.Std * scale, DoF: dof}
}

// randomOf is the relative scatter of a point's efficiency.
func (r *Record) randomOf(p *Point) float64 {
	sum := 0.0
	for _, c := range figures[VolumetricEff].needs[:2] {
		if m, ok := p.Find(c); ok && m.Mean > 0 && m.Effective > 1 {
			u := m.Spread / math.Sqrt(m.Effective) / m.Mean
			sum += u * u
		}
	}
	return math.Sqrt(sum)
}

// Results computes every figure of a test, with the doubts about instruments.
func (r *Record) Results() []Result {
	doubts := r.Doubts()
	out := make([]Result, NumFigures)
	for f := range NumFigures {
		out[f] = r.Figure(f)
		if out[f].Doubt = doubtOf(f, doubts); out[f].Doubt == "" {
			out[f].Doubt = r.asItWas(f)
		}
	}
	return out
}
