package bench

import (
	"fmt"
	"strings"

	"headroom/rules/units"
)

// plateOf is the plate's value that a share of a limit is meant of; ok is
// false where the plate doesn't state it.
func (p *Pump) plateOf(f Figure) (v float64, ok bool) {
	switch f {
	case FlowAtPlate, FlowLost, PackingLeak:
		v = p.FlowM3s
	case SpeedAtPlate:
		v = p.SpeedHz
	case CurrentAtPlate, NoLoadCurrent:
		v = p.MotorA
	case NozzlePressure:
		v = p.NozzlePa
	case ReliefPressure:
		v = p.ReliefPa
	case NPSHRequired:
		v = p.NPSHRequiredM
	}
	return v, v > 0
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
		if _, err := readSide(f, &Pump{FlowM3s: 1, SpeedHz: 1, MotorA: 1, NozzlePa: 1, ReliefPa: 1, NPSHRequiredM: 1}, side.text); err != nil {
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

// readSide reads one side of a limit for a pump; nil where the plate lacks what
// it is a share of.
func readSide(f Figure, p *Pump, text string) (*float64, error) {
	if text == "" {
		return nil, nil
	}
	if s, ok := share(text); ok {
		plate, known := p.plateOf(f)
		switch {
		case known:
			v := s * plate
			return &v, nil
		case f == VolumetricEff || f == OverallEff || f == LeakDown || f == BypassRise || f == HydraulicPower || f == InputPower || f == CurrentSlope:
			return nil, fmt.Errorf("the plate states no %s to take a share of: write a value", f)
		}
		return nil, nil
	}
	v, err := units.Parse(f.Quantity(), text)
	if err != nil {
		return nil, fmt.Errorf("is no value with a unit: write for example %q or \"95 %% of plate\"", sampleOf(f.Quantity()))
	}
	v /= f.perPa()
	return &v, nil
}

// Limits returns the table of acceptance for a pump. A line that is a share of
// what the plate doesn't state is left out.
func (l *Library) Limits(p Pump) []Limit {
	var out []Limit
	for _, raw := range l.limits {
		f, ok := FigureByName(raw.Figure)
		if !ok {
			continue
		}
		lo, errLo := readSide(f, &p, raw.Min)
		hi, errHi := readSide(f, &p, raw.Max)
		if errLo != nil || errHi != nil || lo == nil && hi == nil {
			continue
		}
		out = append(out, Limit{Figure: f, Min: lo, Max: hi, Source: raw.Source})
	}
	return out
}
