package cert

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"headroom/daemon/bench"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// page gathers what the certificate shows.
func page(r *bench.Record, o Options) (*view, error) {
	results, checks := r.Results(), r.Checks()
	verdict, why := r.Stated(checks)
	v := &view{
		Title: "Bench test of a plunger pump", ID: r.ID, Hash: r.Hash(), Version: o.Version, Partial: !r.Whole(),
		Practice: r.PracticeBand(),
		Verdict:  string(verdict), VerdictWhy: sentence(why), Rule: bench.Rule,
		Level: percent(bench.Level), Guard: percent(bench.DecisionLevel),
		FlowUnit: units.For(units.FlowRate, o.Units).Symbol, PressureUnit: units.For(units.Pressure, o.Units).Symbol,
		TempUnit: units.For(units.Temperature, o.Units).Symbol, SpeedUnit: units.For(units.Speed, o.Units).Symbol,
	}
	v.Why = partialWhy(r)
	v.facts(r)
	v.plate(r, o.Units)
	for _, c := range checks {
		v.Checks = append(v.Checks, checkOf(c, o.Units))
	}
	for _, res := range results {
		v.figure(res, o.Units)
	}
	for _, d := range r.Doubts() {
		v.Doubts = append(v.Doubts, sentence(d.Why)+".")
	}
	v.untested(r)
	v.instruments(r)
	v.points(r, o.Units)
	v.Plots = plots(r, o.Units)
	return v, v.changes(r, o)
}

func percent(x float64) string { return strconv.FormatFloat(100*x, 'f', -1, 64) + " %" }

// partialWhy says why a test isn't whole.
func partialWhy(r *bench.Record) string {
	var missing []string
	for _, s := range r.Missing() {
		missing = append(missing, string(s.Kind)+" ("+s.ID+")")
	}
	why := map[bench.State]string{bench.Running: "it was never ended", bench.Aborted: "it was aborted", bench.Complete: "steps are missing"}[r.State]
	if len(missing) > 0 {
		why += "; missing: " + strings.ReplaceAll(strings.Join(missing, ", "), "_", " ")
	}
	return why
}

func (v *view) facts(r *bench.Record) {
	add := func(name, value string) {
		if value != "" {
			v.Facts = append(v.Facts, row{name, value})
		}
	}
	name := r.Pump.Name
	if r.Pump.Invented {
		name += " (invented)"
	}
	add("Pump", name)
	add("Serial number", stated(r.Pump.Serial))
	add("Tested by", r.Who)
	add("Place", stated(r.Where))
	clock := ""
	if r.Practice() {
		clock = ", by the clock of the readings"
	}
	add("Began", day(r.Began))
	add("Ended"+clock, day(r.Ended))
	add("Readings from", r.Source)
	add("Note", r.Note)
	for _, b := range r.Breaks {
		v.Breaks = append(v.Breaks, row{day(b.Wall), b.Why})
	}
}

func (v *view) plate(r *bench.Record, s units.System) {
	p := &r.Pump
	for _, x := range []struct {
		name  string
		q     units.Quantity
		value float64
	}{
		{"Flow", units.FlowRate, p.FlowM3s}, {"Speed", units.Speed, p.SpeedHz}, {"Pressure", units.Pressure, p.PressurePa},
		{"Displacement", units.Volume, p.DisplacementM3}, {"Motor current", units.Current, p.MotorA},
		{"Power factor", units.Fraction, p.PowerFactor}, {"NPSH required", units.Head, p.NPSHRequiredM},
		{"Relief", units.Pressure, p.ReliefPa}, {"Own nozzle", units.Pressure, p.NozzlePa},
	} {
		if x.value > 0 {
			v.Plate = append(v.Plate, row{x.name, bench.Value(x.q, s, x.value)})
		}
	}
}

// marks stand beside the words, so that no colour is needed.
var marks = map[bench.Verdict]string{bench.Pass: "✓", bench.Fail: "✗", bench.NotShown: "?", bench.NotTested: "–"}

func checkOf(c bench.Check, s units.System) checkRow {
	out := checkRow{
		Figure: c.Limit.Figure.Label(), Limit: c.Limit.Words(s), Verdict: string(c.Verdict), Mark: marks[c.Verdict],
		Why: sentence(c.Why), Source: c.Limit.Source, Value: "–", Guard: "–",
	}
	if c.Result.OK {
		out.Value = c.Limit.Figure.FormatU(s, c.Result.Value, c.Result.U)
	}
	if c.Guard > 0 {
		out.Guard = c.Limit.Figure.Spread(s, c.Guard)
	}
	return out
}

func (v *view) figure(res bench.Result, s units.System) {
	if !res.OK {
		v.NotTested = append(v.NotTested, row{res.Figure.Label(), sentence(res.Why)})
		return
	}
	out := figureRow{
		Figure: res.Figure.Label(), Value: res.Figure.FormatU(s, res.Value, res.U),
		K: strconv.FormatFloat(res.K, 'f', 2, 64), DoF: "∞", Doubt: sentence(res.Doubt),
	}
	if res.DoF > 0 && res.DoF < 1000 {
		out.DoF = strconv.FormatFloat(res.DoF, 'f', 0, 64)
	}
	var parts []string
	for i, p := range res.Share {
		if i >= 3 || p.Share < 0.05 {
			break
		}
		parts = append(parts, fmt.Sprintf("%s %.0f %%", strings.ReplaceAll(p.Name, "_", " "), 100*p.Share))
	}
	out.Parts = strings.Join(parts, "; ")
	v.Figures = append(v.Figures, out)
}

func (v *view) untested(r *bench.Record) {
	for _, g := range r.Skipped {
		v.NotTested = append(v.NotTested, row{"Step " + strings.ReplaceAll(g.Step, "_", " "), sentence(g.Why)})
	}
	v.NotTested = append(v.NotTested, []row{
		{"Life of packing and valves", "A bench test shows the state on the day, not how long it will last."},
		{"Strength under pressure", "No pressure test of casing, hoses or fittings was made."},
		{"Electrical safety", "Neither insulation nor ground fault protection was tested."},
	}...)
}

func (v *view) instruments(r *bench.Record) {
	today := r.Began.UTC().Format(time.DateOnly)
	for _, i := range r.Instruments {
		c, ok := frame.ByName(i.Channel)
		if !ok {
			continue
		}
		out := instrumentRow{Channel: c.Label(), Name: strings.TrimSpace(i.Name + " " + i.Serial), Error: i.Stated, Calibrated: i.Calibrated, Due: i.Due}
		if out.Calibrated == "" {
			out.Calibrated = "not stated"
		}
		if i.Overdue(today) {
			out.Due += " – overdue on the day of the test"
		}
		v.Instruments = append(v.Instruments, out)
	}
}

func (v *view) points(r *bench.Record, s units.System) {
	for i := range r.Points {
		p := &r.Points[i]
		show := func(c frame.Channel) string {
			m, ok := p.Find(c)
			if !ok {
				return "–"
			}
			return bench.Number(c.Quantity(), s, m.Mean)
		}
		out := pointRow{
			Step: strings.ReplaceAll(p.Step, "_", " "), Inlet: show(frame.InletPressure), Outlet: show(frame.OutletPressure),
			Flow: show(frame.Flow), Speed: show(frame.ShaftSpeed), Current: show(frame.MotorCurrent), Temp: show(frame.WaterTemp),
		}
		if p.AsItIs {
			out.Step += " (taken as it was)"
		}
		if m, ok := p.Find(frame.Flow); ok {
			out.Worth = fmt.Sprintf("%d / %.0f", m.N, m.Effective)
		}
		v.Points = append(v.Points, out)
	}
	for _, e := range r.Entries {
		q := units.FlowRate
		if e.Kind == bench.Reference {
			q = units.Pressure
		}
		v.Entries = append(v.Entries, row{strings.ReplaceAll(string(e.Kind), "_", " "), bench.Told(q, s, e.Value, e.Half)})
	}
}

func (v *view) changes(r *bench.Record, o Options) error {
	if o.Before == nil {
		return nil
	}
	all, err := bench.Compare(o.Before, r)
	if err != nil {
		return err
	}
	v.BeforeID = o.Before.ID
	if !o.Before.Whole() {
		v.BeforeID += " (partial)"
	}
	for _, c := range all {
		if !c.OK {
			continue
		}
		out := changeRow{
			Figure: c.Figure.Label(), Before: c.Figure.FormatU(o.Units, c.Before.Value, c.Before.U),
			After: c.Figure.FormatU(o.Units, c.After.Value, c.After.U), Difference: c.Figure.FormatDifference(o.Units, c.Difference, c.U),
			Says: "no difference shown",
		}
		if c.Shown {
			out.Says = "changed"
		}
		if c.Why != "" {
			out.Says = sentence(c.Why)
		}
		v.Changes = append(v.Changes, out)
	}
	return nil
}

// stated is what was written, or that nothing was: a row that is missing looks
// like one that nobody asked for.
func stated(text string) string {
	if text == "" {
		return "not stated"
	}
	return text
}
