package dashboard

import (
	"html/template"
	"net/http"
	"strconv"
	"strings"

	"headroom/daemon/bench"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// benchResultsView is what a test showed.
type benchResultsView struct {
	chrome
	ID, Href, State            string
	Partial, UnderWay, CanGoOn bool
	Verdict, Tone, Why, Rule   string
	Facts                      []factRow
	Checks                     []benchCheck
	Figures                    []benchFigure
	Missing, Doubts, Breaks    []string
	Plots                      []template.HTML
	Points                     []benchPointRow
	Told                       []factRow
	// Flow, Pressure, Speed and Temp are the units of the table of points.
	Flow, Pressure, Speed, Temp string
	Before                      []benchRow
	Hash                        string
	// Baseline is the lines for a config; NoBaseline says why there are none.
	Baseline, NoBaseline, ConfigFile string
	Who                              string
}

// benchCheck is one line of the table of acceptance.
type benchCheck struct{ Figure, Value, Limit, Guard, Verdict, Tone, Why, Source string }

// benchFigure is one result; Why says what is missing where it has no value.
type benchFigure struct{ Name, Value, K, Parts, Doubt, Why string }

type benchPointRow struct {
	Step, Inlet, Outlet, Flow, Speed, Current, Temp string
	AsItIs                                          bool
}

func (s *server) benchResultsPage(w http.ResponseWriter, r *http.Request) {
	rec, ok := s.benchTest(w, r)
	if !ok {
		return
	}
	s.write(w, r, "benchresults.html", s.benchResultsView(r, rec, ""))
}

func (s *server) benchResultsView(r *http.Request, rec *bench.Record, trouble string) *benchResultsView {
	sys := s.prefsOf(r).Units
	now, halted := s.benchNow(r)
	v := &benchResultsView{chrome: s.chrome(r, "Bench test", placeBench), ID: rec.ID, Href: benchPath(rec.ID), Partial: !rec.Whole(), Rule: bench.Rule, Hash: rec.Hash(), Who: cookieName(r)}
	v.Band = rec.PracticeBand()
	v.UnderWay = now != nil && now.ID == rec.ID
	v.State = benchState(rec, v.UnderWay, v.UnderWay && halted)
	v.CanGoOn = rec.State == bench.Running && (now == nil || v.UnderWay && halted)
	v.CanUnits, v.Here, v.Trouble, v.Said = true, v.Href, trouble, saidOf(r, benchSaid)
	results, checks := rec.Results(), rec.Checks()
	verdict, why := rec.Stated(checks)
	v.Verdict, v.Tone, v.Why = capital(string(verdict)), verdictLook(verdict), capital(why)
	v.facts(rec, sys)
	v.checks(checks, sys)
	v.figures(results, sys)
	v.gaps(rec, sys)
	v.Plots = benchPlots(rec, sys)
	v.points(rec, sys)
	v.baseline(rec, s.opt.Bench.ConfigFile())
	all, _ := s.opt.Bench.Tests() // what can't be read is told on the list
	for _, o := range all {
		if o.ID != rec.ID && o.Pump.DisplacementM3 == rec.Pump.DisplacementM3 && o.Pump.PressurePa == rec.Pump.PressurePa && o.Began.Before(rec.Began) {
			v.Before = append(v.Before, benchRow{ID: o.ID, Name: pumpName(&o.Pump), Began: began(o.Began)})
		}
	}
	return v
}

func (v *benchResultsView) facts(rec *bench.Record, sys units.System) {
	ended := "not yet"
	if !rec.Ended.IsZero() {
		ended = began(rec.Ended)
	}
	v.Facts = []factRow{
		{"Pump", pumpName(&rec.Pump)}, {"Plate", bench.Value(units.FlowRate, sys, rec.Pump.FlowM3s) + ", " + bench.Value(units.Pressure, sys, rec.Pump.PressurePa) + ", " + bench.Value(units.Speed, sys, rec.Pump.SpeedHz)},
		{"Serial number", orNothing(rec.Pump.Serial)}, {"Tested by", rec.Who}, {"Where", orNothing(rec.Where)}, {"Began", began(rec.Began)}, {"Ended", ended}, {"Readings from", rec.Source}, {"Test", rec.ID},
	}
}

func orNothing(text string) string {
	if text == "" {
		return "not stated"
	}
	return text
}

func (v *benchResultsView) checks(checks []bench.Check, sys units.System) {
	for _, c := range checks {
		f := c.Limit.Figure
		row := benchCheck{Figure: f.Label(), Value: "–", Limit: c.Limit.Words(sys), Guard: "–", Verdict: capital(string(c.Verdict)), Tone: verdictLook(c.Verdict), Why: capital(c.Why), Source: c.Limit.Source}
		if c.Result.OK {
			row.Value = f.FormatU(sys, c.Result.Value, c.Result.U)
		}
		if c.Guard > 0 {
			row.Guard = f.Spread(sys, c.Guard)
		}
		v.Checks = append(v.Checks, row)
	}
}

// mostParts of an uncertainty are named.
const mostParts = 3

func (v *benchResultsView) figures(results []bench.Result, sys units.System) {
	for _, res := range results {
		row := benchFigure{Name: res.Figure.Label(), Value: "–", Why: capital(res.Why), Doubt: capital(res.Doubt)}
		if res.OK {
			row.Value, row.K = res.Figure.FormatU(sys, res.Value, res.U), strconv.FormatFloat(res.K, 'f', 2, 64)
			var parts []string
			for _, p := range res.Share[:min(len(res.Share), mostParts)] {
				parts = append(parts, strconv.FormatFloat(100*p.Share, 'f', 0, 64)+" % "+p.Name)
			}
			row.Parts = strings.Join(parts, ", ")
		}
		v.Figures = append(v.Figures, row)
	}
}

// gaps are what is missing, what is doubted and where the test was broken off.
func (v *benchResultsView) gaps(rec *bench.Record, sys units.System) {
	why := map[string]string{}
	for _, g := range rec.Skipped {
		why[g.Step] = ": " + g.Why
	}
	for _, st := range rec.Missing() {
		v.Missing = append(v.Missing, benchStepName(&st, sys)+why[st.ID])
	}
	for _, d := range rec.Doubts() {
		v.Doubts = append(v.Doubts, capital(d.Why))
	}
	for _, b := range rec.Breaks {
		v.Breaks = append(v.Breaks, began(b.Wall)+": "+b.Why)
	}
}

func (v *benchResultsView) points(rec *bench.Record, sys units.System) {
	v.Flow, v.Pressure = units.For(units.FlowRate, sys).Symbol, units.For(units.Pressure, sys).Symbol
	v.Speed, v.Temp = units.For(units.Speed, sys).Symbol, units.For(units.Temperature, sys).Symbol
	for i := range rec.Points {
		p := &rec.Points[i]
		text := func(c frame.Channel) string {
			m, ok := p.Find(c)
			if !ok {
				return "–"
			}
			return bench.Number(c.Quantity(), sys, m.Mean)
		}
		v.Points = append(v.Points, benchPointRow{
			Step: capital(strings.ReplaceAll(p.Step, "_", " ")), AsItIs: p.AsItIs, Inlet: text(frame.InletPressure), Outlet: text(frame.OutletPressure),
			Flow: text(frame.Flow), Speed: text(frame.ShaftSpeed), Current: text(frame.MotorCurrent), Temp: text(frame.WaterTemp),
		})
	}
	for _, e := range rec.Entries {
		q := units.FlowRate
		if e.Kind == bench.Reference {
			q = units.Pressure
		}
		v.Told = append(v.Told, factRow{capital(strings.ReplaceAll(string(e.Kind), "_", " ")), bench.Told(q, sys, e.Value, e.Half)})
	}
}

// baseline prepares what a config would take.
func (v *benchResultsView) baseline(rec *bench.Record, file string) {
	text, err := rec.WriteBaseline("")
	if err != nil {
		v.NoBaseline = asSentence(err)
		return
	}
	v.Baseline, v.ConfigFile = text, file
}
