package bench

import (
	"cmp"
	"fmt"
	"strings"

	"headroom/rules/units"
)

// plateOf is the plate's value that a share of a limit is meant of, with its key
// in the library; ok is false where the plate doesn't state it. The key is empty
// for a figure that no plate states.
func (p *Pump) plateOf(f Figure) (v float64, key string, ok bool) {
	switch f {
	case FlowAtPlate, FlowLost, PackingLeak:
		v, key = p.FlowM3s, "flow"
	case SpeedAtPlate:
		v, key = p.SpeedHz, "speed"
	case CurrentAtPlate, NoLoadCurrent:
		v, key = p.MotorA, "motor_current"
	case NozzlePressure:
		v, key = p.NozzlePa, "nozzle_pressure"
	case ReliefPressure:
		v, key = p.ReliefPa, "relief"
	case NPSHRequired:
		v, key = p.NPSHRequiredM, "npsh_required"
	}
	return v, key, v > 0
}

// share reads "95 % of plate".
func share(text string) (float64, bool) {
	part, found := strings.CutSuffix(strings.TrimSpace(text), "of plate")
	if !found {
		return 0, false
	}
	v, err := units.Parse(units.Fraction, strings.TrimSpace(part))
	return v, err == nil && v >= 0 && v <= 10
}

// limit checks one line of acceptance as far as it can be without a pump.
func (r *libraryReader) limit(i int, l *rawLimit) {
	f, ok := FigureByName(l.Figure)
	if !ok {
		r.bad("limit", i, "figure", "there is no figure %q: write one of %s", l.Figure, strings.Join(figureNames(), ", "))
		return
	}
	if l.Min == "" && l.Max == "" {
		r.bad("limit", i, "min", "the limit of %s has neither min nor max: write one", l.Figure)
	}
	if strings.TrimSpace(l.Source) == "" {
		r.bad("limit", i, "source", "the limit of %s says nothing of its source: write source = \"...\", for example \"maker's data sheet\"", l.Figure)
	}
	for _, side := range []struct{ key, text string }{{"min", l.Min}, {"max", l.Max}} {
		if side.text == "" {
			continue
		}
		if _, _, err := readSide(f, &Pump{FlowM3s: 1, SpeedHz: 1, MotorA: 1, NozzlePa: 1, ReliefPa: 1, NPSHRequiredM: 1}, side.text); err != nil {
			r.bad("limit", i, side.key, "%s = %q: %v", side.key, side.text, err)
		}
	}
}

func figureNames() []string {
	out := make([]string, NumFigures)
	for f := range NumFigures {
		out[f] = f.String()
	}
	return out
}

// readSide reads one side of a limit for a pump. Where the plate lacks what it is
// a share of, v is nil and lacks that value's key in the library.
func readSide(f Figure, p *Pump, text string) (v *float64, lacks string, err error) {
	if text == "" {
		return nil, "", nil
	}
	if s, ok := share(text); ok {
		plate, key, known := p.plateOf(f)
		switch {
		case known:
			plate *= s
			return &plate, "", nil
		case key == "":
			return nil, "", fmt.Errorf("the plate states no %s to take a share of: write a value", f)
		}
		return nil, key, nil
	}
	si, err := units.Parse(f.Quantity(), text)
	if err != nil {
		return nil, "", fmt.Errorf("is no value with a unit: write for example %q or \"95 %% of plate\"", sampleOf(f.Quantity()))
	}
	si /= f.perPa()
	return &si, "", nil
}

// Limits returns the table of acceptance for a pump. A line that is a share of
// what the plate doesn't state is kept with Lacks: what nobody can hold the pump
// against must not look like a limit that it keeps.
func (l *Library) Limits(p Pump) []Limit {
	var out []Limit
	for _, raw := range l.limits {
		f, ok := FigureByName(raw.Figure)
		if !ok {
			continue
		}
		lo, lacksLo, errLo := readSide(f, &p, raw.Min)
		hi, lacksHi, errHi := readSide(f, &p, raw.Max)
		if errLo != nil || errHi != nil {
			continue // ParseLibrary has refused such a line
		}
		out = append(out, Limit{Figure: f, Min: lo, Max: hi, Source: raw.Source, Lacks: cmp.Or(lacksLo, lacksHi)})
	}
	return out
}
