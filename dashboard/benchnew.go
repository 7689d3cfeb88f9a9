package dashboard

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"

	"headroom/daemon/bench"
	"headroom/rules/units"
)

// benchNewView is the page where a test is planned.
type benchNewView struct {
	chrome
	Pumps []benchPump
	// Under way already: the test's address; empty without one.
	Now string
	// What was written, or what is usual.
	Serial, Place, Loads, Unloader, Speeds, Window string
	Inlet, Bypass, Leak, Hand                      bool
	Who, BenchFrom                                 string
	// Practice is set where readings are no machine's that obeys: a test asks
	// for things that nobody can do to it.
	Practice bool
	// Instruments that are invented stand beside real readings.
	Instruments []benchInstrument
}

type benchPump struct {
	Name, Plate      string
	Invented, Chosen bool
}

type benchInstrument struct{ Channel, Name, Error, Calibrated string }

func (s *server) benchNewPage(w http.ResponseWriter, r *http.Request) {
	v := s.benchNewView(r)
	v.Loads, v.Window, v.Inlet, v.Bypass, v.Leak, v.Hand = shares(bench.DefaultChoice().LoadShares), "30", true, true, true, true
	s.write(w, r, "benchnew.html", v)
}

func (s *server) benchNewView(r *http.Request) *benchNewView {
	v := &benchNewView{chrome: s.chrome(r, "New bench test", placeBench), Who: cookieName(r), BenchFrom: s.opt.Bench.Source(), Practice: s.opt.Source != ""}
	v.CanUnits, v.Here, v.Said = true, "/bench/new", saidOf(r, benchSaid)
	if now, _ := s.benchNow(r); now != nil {
		v.Now = benchPath(now.ID)
	}
	lib, _, err := s.opt.Bench.Library()
	if err != nil {
		v.Trouble = asSentence(err)
		return v
	}
	sys, chosen := s.prefsOf(r).Units, r.FormValue("pump")
	for i := range lib.Pumps {
		p := &lib.Pumps[i]
		v.Pumps = append(v.Pumps, benchPump{
			Name: p.Name, Invented: p.Invented, Chosen: p.Name == chosen || chosen == "" && i == 0,
			Plate: bench.Value(units.FlowRate, sys, p.FlowM3s) + " · " + bench.Value(units.Pressure, sys, p.PressurePa) + " · " + bench.Value(units.Speed, sys, p.SpeedHz),
		})
	}
	for _, in := range lib.Instruments {
		row := benchInstrument{Channel: capital(strings.ReplaceAll(in.Channel, "_", " ")), Name: strings.TrimSpace(in.Name + " " + in.Serial), Error: in.Stated, Calibrated: in.Calibrated}
		if row.Calibrated == "" {
			row.Calibrated = "not stated"
		}
		v.Instruments = append(v.Instruments, row)
	}
	return v
}

// shares writes shares as percents.
func shares(all []float64) string {
	words := make([]string, len(all))
	for i, f := range all {
		words[i] = strconv.FormatFloat(100*f, 'f', -1, 64)
	}
	return strings.Join(words, ", ")
}

// sharesOf reads percents; a number without a sign is one, too.
func sharesOf(what, text string) (out []float64, err error) {
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || r == ' ' || r == '%' }) {
		f, err := strconv.ParseFloat(word, 64)
		if err != nil {
			return nil, fmt.Errorf("%s: %q is no list of percents of the plate: write for example 50, 75, 100", what, text)
		}
		out = append(out, f/100)
	}
	return out, nil
}

// benchBegin begins a test as the form says.
func (s *server) benchBegin(w http.ResponseWriter, r *http.Request) {
	setup, err := s.benchSetup(r)
	var id string
	if err == nil {
		id, err = s.opt.Bench.Begin(setup)
	}
	if err != nil {
		v, f := s.benchNewView(r), r.PostForm
		v.Trouble, v.Serial, v.Place, v.Window = asSentence(err), f.Get("serial"), f.Get("place"), f.Get("window")
		v.Loads, v.Unloader, v.Speeds = f.Get("loads"), f.Get("unloader"), f.Get("speeds")
		v.Inlet, v.Bypass, v.Leak, v.Hand = f.Get("inlet") != "", f.Get("bypass") != "", f.Get("leak") != "", f.Get("hand") != ""
		s.writeCode(w, r, http.StatusConflict, "benchnew.html", v)
		return
	}
	s.noteBench(r, "begun", id)
	http.Redirect(w, r, benchPath(id)+"?said=begun", http.StatusSeeOther)
}

func (s *server) benchSetup(r *http.Request) (out bench.Setup, err error) {
	lib, _, err := s.opt.Bench.Library()
	if err != nil {
		return out, err
	}
	f := r.PostForm
	p, ok := lib.Find(f.Get("pump"))
	if !ok {
		return out, errors.New("choose a pump from the library")
	}
	p.Serial = cleanName(f.Get("serial"))
	c := bench.Choice{Inlet: f.Get("inlet") != "", Bypass: f.Get("bypass") != "", LeakDown: f.Get("leak") != "", ByHand: f.Get("hand") != ""}
	for _, l := range []struct {
		what, key string
		to        *[]float64
	}{{"load points", "loads", &c.LoadShares}, {"points by the unloader", "unloader", &c.UnloaderShares}, {"speeds", "speeds", &c.SpeedShares}} {
		if *l.to, err = sharesOf(l.what, f.Get(l.key)); err != nil {
			return out, err
		}
	}
	if c.WindowS, err = strconv.ParseFloat(strings.TrimSpace(f.Get("window")), 64); err != nil {
		return out, errors.New("write how many seconds a point is long, 10 to 600")
	}
	out.Pump, out.Who, out.Where = p, cleanName(f.Get("who")), cleanName(f.Get("place"))
	out.Plan, err = bench.NewPlan(p, c)
	return out, err
}

// noteBench puts what was done on the bench into the record of the run. The
// test has a record of its own, so a failure is for the log alone.
func (s *server) noteBench(r *http.Request, did, id string) {
	if err := s.note(r.Context(), "bench_test", "Bench test "+id+": "+did, s.whoOf(r)); err != nil {
		s.log.Warn("the record of the run could not take a note on a bench test", "test", id, "err", err)
	}
}

// benchLibraryView is the page of the library.
type benchLibraryView struct {
	chrome
	Text   string
	Fields []benchField
}

// benchField is one figure of a plate in the form.
type benchField struct {
	Key, Label, Example, Value string
	Needed                     bool
	quantity                   units.Quantity
}

// benchFields are the figures of a plate, by their keys in the library.
func benchFields(sys units.System) []benchField {
	fields := []benchField{
		{Key: "name", Label: "Name", Example: "shop pump 3", Needed: true},
		{Key: "flow", Label: "Flow on the plate", Needed: true, quantity: units.FlowRate, Example: bench.Value(units.FlowRate, sys, 7.6e-3/60)},
		{Key: "pressure", Label: "Highest working pressure", Needed: true, quantity: units.Pressure, Example: bench.Value(units.Pressure, sys, 9e6)},
		{Key: "speed", Label: "Shaft speed for that flow", Needed: true, quantity: units.Speed, Example: "1725 rpm"},
		{Key: "plungers", Label: "Number of plungers", Example: "3"},
		{Key: "plunger", Label: "Diameter of a plunger", quantity: units.Bore, Example: bench.Value(units.Bore, sys, 0.018)},
		{Key: "stroke", Label: "Stroke", quantity: units.Bore, Example: bench.Value(units.Bore, sys, 0.0143)},
		{Key: "displacement", Label: "Or displacement of a revolution", quantity: units.Volume, Example: "4.638 cm3"},
		{Key: "motor_current", Label: "Rated current of the motor", quantity: units.Current, Example: "20 A"},
		{Key: "power_factor", Label: "Power factor at that pressure", quantity: units.Fraction, Example: "90 %"},
		{Key: "power_factor_error", Label: "How far the power factor may be off", quantity: units.Fraction, Example: "2 %"},
		{Key: "npsh_required", Label: "NPSH required", quantity: units.Head, Example: bench.Value(units.Head, sys, 2.5)},
		{Key: "relief", Label: "Relief or unloader opens at", quantity: units.Pressure, Example: bench.Value(units.Pressure, sys, 9.2e6)},
		{Key: "nozzle_pressure", Label: "Pressure with the own nozzle", quantity: units.Pressure, Example: bench.Value(units.Pressure, sys, 7.7e6)},
	}
	return fields
}

func (s *server) benchLibraryPage(w http.ResponseWriter, r *http.Request) {
	_, text, err := s.opt.Bench.Library()
	trouble := ""
	if err != nil {
		trouble = asSentence(err)
	}
	s.showBenchLibrary(w, r, http.StatusOK, text, trouble)
}

func (s *server) showBenchLibrary(w http.ResponseWriter, r *http.Request, code int, text, trouble string) {
	v := &benchLibraryView{chrome: s.chrome(r, "Library of pumps", placeBench), Text: text, Fields: benchFields(s.prefsOf(r).Units)}
	v.CanUnits, v.Here, v.Trouble, v.Said = true, "/bench/library", trouble, saidOf(r, benchSaid)
	for i := range v.Fields {
		v.Fields[i].Value = r.PostFormValue(v.Fields[i].Key)
	}
	s.writeCode(w, r, code, "benchlibrary.html", v)
}

// setBenchLibrary puts a changed library in use.
func (s *server) setBenchLibrary(w http.ResponseWriter, r *http.Request) {
	text := strings.ReplaceAll(r.PostFormValue("text"), "\r\n", "\n")
	if err := s.opt.Bench.SetLibrary(text); err != nil {
		s.showBenchLibrary(w, r, http.StatusConflict, text, asSentence(err))
		return
	}
	http.Redirect(w, r, "/bench/library?said=library", http.StatusSeeOther)
}

// addBenchPump appends a pump to the library.
func (s *server) addBenchPump(w http.ResponseWriter, r *http.Request) {
	_, text, err := s.opt.Bench.Library()
	var block string
	if err == nil {
		block, err = pumpBlock(r, s.prefsOf(r).Units)
	}
	if err == nil {
		err = s.opt.Bench.SetLibrary(strings.TrimRight(text, "\n") + "\n\n" + block)
	}
	if err != nil {
		s.showBenchLibrary(w, r, http.StatusConflict, text, asSentence(err))
		return
	}
	http.Redirect(w, r, "/bench/new?said=pump&pump="+url.QueryEscape(cleanName(r.PostFormValue("name"))), http.StatusSeeOther)
}

// lineMark is the place that a mistake in a block alone names.
var lineMark = regexp.MustCompile(`(?m)^:\d+: `)

// pumpBlock is a form's pump as the library has it. A bare number takes the
// unit that is shown.
func pumpBlock(r *http.Request, sys units.System) (string, error) {
	var b strings.Builder
	b.WriteString("[[pump]]\n")
	for _, f := range benchFields(sys) {
		text := cleanName(r.PostFormValue(f.Key))
		_, err := strconv.ParseFloat(text, 64)
		switch {
		case text == "":
			continue
		case f.Key == "plungers":
			if _, err := strconv.Atoi(text); err != nil {
				return "", errors.New("write the number of plungers as a number, for example 3")
			}
			fmt.Fprintf(&b, "plungers = %s\n", text)
			continue
		case err == nil && f.quantity == units.Fraction:
			text += " %"
		case err == nil && f.quantity != units.None:
			text += " " + units.For(f.quantity, sys).Symbol
		}
		fmt.Fprintf(&b, "%s = %s\n", f.Key, strconv.Quote(text))
	}
	if _, err := bench.ParseLibrary("", []byte(b.String())); err != nil {
		return "", errors.New(lineMark.ReplaceAllString(err.Error(), ""))
	}
	return b.String(), nil
}
