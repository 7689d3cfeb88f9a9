package bench

import (
	"fmt"
	"strconv"
	"strings"

	"headroom/rules/frame"
	"headroom/rules/wear"
)

// The marks around what is written into a config, so that the next test
// replaces it and nothing else.
const (
	baselineBegin = "# >>> baseline of the machine, written by headroom bench accept-baseline"
	baselineEnd   = "# <<< end of the baseline"
)

// Baseline returns the load points as the machine's own baseline for the wear
// rule, which takes the outlet's gauge pressure. The error says why a test is
// no good for it: nobody should compare with a pump that failed, with one that
// was never there, or with an instrument that contradicts itself.
func (r *Record) Baseline() ([]wear.Point, error) {
	if r.Practice() {
		return nil, fmt.Errorf("the test %s can't be a baseline: it is practice, and no pump was tested. Test the pump with this machine's own sensors", r.ID)
	}
	doubts := r.Doubts()
	if why := doubtOf(VolumetricEff, doubts); why != "" {
		return nil, fmt.Errorf("the test %s can't be a baseline: %s", r.ID, why)
	}
	if v, why := r.Overall(r.Checks()); v == Fail {
		return nil, fmt.Errorf("the test %s can't be a baseline, the pump failed: %s", r.ID, why)
	}
	var out []wear.Point
	for _, p := range r.of(NoLoad, Load, Speed) {
		if b, ok := r.baselinePoint(p); ok {
			out = append(out, b)
		}
	}
	if len(out) < 2 {
		return nil, fmt.Errorf("the test %s can't be a baseline: it has %d points with flow, speed, pressure and temperature, and two are needed", r.ID, len(out))
	}
	return out[:min(len(out), wear.MaxBaseline)], nil
}

func (r *Record) baselinePoint(p *Point) (wear.Point, bool) {
	q, ok0 := p.Find(frame.Flow)
	n, ok1 := p.Find(frame.ShaftSpeed)
	out, ok2 := p.Find(frame.OutletPressure)
	t, ok3 := p.Find(frame.WaterTemp)
	if !ok0 || !ok1 || !ok2 || !ok3 || p.AsItIs {
		return wear.Point{}, false
	}
	e, ok := wear.VolumetricEfficiency(q.Mean, r.Pump.DisplacementM3, n.Mean)
	b := wear.Point{SpeedHz: n.Mean, DropPa: max(out.Mean, 0), TempK: t.Mean, Efficiency: e}
	return b, ok && e > 0
}

// WriteBaseline puts a test's points into the text of a config, in the place of
// those of an earlier test. It changes nothing else.
func (r *Record) WriteBaseline(text string) (string, error) {
	points, err := r.Baseline()
	if err != nil {
		return "", err
	}
	begin, end := strings.Index(text, baselineBegin), strings.Index(text, baselineEnd)
	switch {
	case begin >= 0 && end > begin:
		text = text[:begin] + strings.TrimPrefix(text[end+len(baselineEnd):], "\n")
	case begin >= 0 || end >= 0:
		return "", fmt.Errorf("the config has only one of the two marks around the baseline: take it out by hand")
	}
	if text != "" && !strings.HasSuffix(text, "\n") {
		text += "\n"
	}
	return text + r.baselineBlock(points), nil
}

// baselineBlock is the points as TOML.
func (r *Record) baselineBlock(points []wear.Point) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n# From the test %s, record %s.\n", baselineBegin, r.ID, r.Hash())
	for _, p := range points {
		fmt.Fprintf(&b, "\n[[machine.baseline]]\nspeed = \"%s rpm\"\npressure = \"%s MPa\"\ntemperature = \"%s °C\"\nefficiency = \"%s %%\"\n",
			short(60*p.SpeedHz, 2), short(p.DropPa/1e6, 4), short(p.TempK-273.15, 2), short(100*p.Efficiency, 3))
	}
	b.WriteString(baselineEnd + "\n")
	return b.String()
}

func short(v float64, decimals int) string { return strconv.FormatFloat(v, 'f', decimals, 64) }
