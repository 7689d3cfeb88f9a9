package dashboard

import (
	"html/template"
	"net/http"
	"slices"

	"headroom/daemon/bench"
	"headroom/daemon/bench/plot"
	"headroom/rules/units"
)

// benchCompareView sets two tests of one plate side by side.
type benchCompareView struct {
	chrome
	// A is the test before and B the one after.
	A, B         string
	Choice       []benchRow
	Rows         []benchChange
	NoteA, NoteB string
}

type benchChange struct {
	Figure, Before, After, Difference, Says string
	Changed                                 bool
}

func (s *server) benchComparePage(w http.ResponseWriter, r *http.Request) {
	v := &benchCompareView{chrome: s.chrome(r, "Before and after", placeBench), A: r.FormValue("a"), B: r.FormValue("b")}
	v.CanUnits = true
	all, _ := s.opt.Bench.Tests() // what can't be read is told on the list
	for i := len(all) - 1; i >= 0; i-- {
		v.Choice = append(v.Choice, benchRow{ID: all[i].ID, Name: pumpName(&all[i].Pump), Began: began(all[i].Began)})
	}
	if v.A != "" && v.B != "" {
		if err := v.compare(s.opt.Bench, s.prefsOf(r).Units); err != nil {
			v.Trouble = asSentence(err)
		}
	}
	s.write(w, r, "benchcompare.html", v)
}

func (v *benchCompareView) compare(b Bench, sys units.System) error {
	before, err := b.Test(v.A)
	if err != nil {
		return err
	}
	after, err := b.Test(v.B)
	if err != nil {
		return err
	}
	if err := bench.Distinct(before, after); err != nil {
		return err
	}
	all, err := bench.Compare(before, after)
	if err != nil {
		return err
	}
	for _, t := range []*bench.Record{before, after} {
		if t.Practice() {
			v.Band = t.PracticeBand()
		}
	}
	v.NoteA, v.NoteB = benchState(before, false, false), benchState(after, false, false)
	for _, c := range all {
		v.Rows = append(v.Rows, benchChangeOf(c, sys))
	}
	return nil
}

func benchChangeOf(c bench.Change, sys units.System) benchChange {
	row := benchChange{Figure: c.Figure.Label(), Before: "–", After: "–", Difference: "–", Changed: c.OK && c.Shown}
	if c.Before.OK {
		row.Before = c.Figure.FormatU(sys, c.Before.Value, c.Before.U)
	}
	if c.After.OK {
		row.After = c.Figure.FormatU(sys, c.After.Value, c.After.U)
	}
	switch {
	case !c.OK:
	case c.Shown:
		row.Says = "Changed"
	default:
		row.Says = "No difference shown"
	}
	if c.OK {
		row.Difference = c.Figure.FormatDifference(sys, c.Difference, c.U)
	}
	if c.Why != "" {
		row.Says = capital(c.Why)
	}
	return row
}

// benchTrendView follows a figure over the tests of a pump.
type benchTrendView struct {
	chrome
	Pumps           []string
	Pump, Figure    string
	Figures         []benchFigureName
	Plot            template.HTML
	Rows            []benchTrendRow
	PerYear, Silent string
}

type benchFigureName struct{ Name, Label string }

type benchTrendRow struct {
	Href, Began, Value string
	Partial, Practice  bool
}

func (s *server) benchTrendPage(w http.ResponseWriter, r *http.Request) {
	v := &benchTrendView{chrome: s.chrome(r, "Over the rebuilds", placeBench), Pump: r.FormValue("pump"), Figure: r.FormValue("figure")}
	v.CanUnits = true
	for f := range bench.NumFigures {
		v.Figures = append(v.Figures, benchFigureName{f.String(), f.Label()})
	}
	all, _ := s.opt.Bench.Tests() // what can't be read is told on the list
	for i := len(all) - 1; i >= 0; i-- {
		if name := pumpName(&all[i].Pump); !slices.Contains(v.Pumps, name) {
			v.Pumps = append(v.Pumps, name)
		}
	}
	if v.Pump == "" && len(v.Pumps) > 0 {
		v.Pump = v.Pumps[0]
	}
	f, ok := bench.FigureByName(v.Figure)
	if !ok {
		f = bench.VolumetricEff
		v.Figure = f.String()
	}
	v.follow(f, slices.DeleteFunc(all, func(t *bench.Record) bool { return pumpName(&t.Pump) != v.Pump }), s.prefsOf(r).Units)
	s.write(w, r, "benchtrend.html", v)
}

func (v *benchTrendView) follow(f bench.Figure, tests []*bench.Record, sys units.System) {
	t := bench.TrendOf(f, tests)
	u := f.Unit(sys)
	chart := plot.Chart{Name: f.Label() + " over the tests of " + v.Pump, XLabel: "days since the first test", YLabel: f.Label()}
	if u.Symbol != "" {
		chart.YLabel += ", " + u.Symbol
	}
	for _, p := range t.Points {
		v.Rows = append(v.Rows, benchTrendRow{benchPath(p.ID), began(p.Began), f.FormatU(sys, p.Result.Value, p.Result.U), !p.Whole, p.Practice})
		y := u.FromSI(p.Result.Value)
		chart.Points = append(chart.Points, plot.Point{
			X: p.Began.Sub(tests[0].Began).Hours() / 24, Y: y, UY: u.FromSI(p.Result.Value+p.Result.U) - y, Hollow: !p.Whole,
		})
	}
	v.Plot = template.HTML(chart.SVG()) // #nosec: package plot escapes every text.
	switch {
	case t.OK:
		v.PerYear = f.FormatDifference(sys, t.PerYear, t.U) + " a year"
	case len(t.Points) > 0:
		v.Silent = "A trend needs three tests; there are " + counted(len(t.Points), "test", "tests") + " with this figure."
	default:
		v.Silent = "No test of this pump has this figure."
	}
}
