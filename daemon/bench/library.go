package bench

import (
	"bytes"
	_ "embed" // the generic library
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/rules/wear"
)

//go:embed library.toml
var genericTOML []byte

// Generic returns the library that is built in: invented pumps, invented
// instruments, and limits that are common practice.
func Generic() *Library {
	l, err := ParseLibrary("library.toml", genericTOML)
	if err != nil {
		panic(err) // a test reads it
	}
	return l
}

// GenericText is that library as a file, to copy and edit.
func GenericText() string { return string(genericTOML) }

// LoadLibrary reads a library file.
func LoadLibrary(path string) (*Library, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("cannot read the library of pumps: %w", err)
	}
	return ParseLibrary(path, data)
}

// The file as it is written: every value a text with its unit.
type (
	rawLibrary struct {
		Pump       []rawPump       `toml:"pump"`
		Instrument []rawInstrument `toml:"instrument"`
		Limit      []rawLimit      `toml:"limit"`
	}
	rawPump struct {
		Name             string `toml:"name"`
		Serial           string `toml:"serial"`
		Invented         bool   `toml:"invented"`
		Flow             string `toml:"flow"`
		Speed            string `toml:"speed"`
		Pressure         string `toml:"pressure"`
		Displacement     string `toml:"displacement"`
		Plungers         int    `toml:"plungers"`
		Plunger          string `toml:"plunger"`
		Stroke           string `toml:"stroke"`
		MotorCurrent     string `toml:"motor_current"`
		PowerFactor      string `toml:"power_factor"`
		PowerFactorError string `toml:"power_factor_error"`
		NPSHRequired     string `toml:"npsh_required"`
		Relief           string `toml:"relief"`
		NozzlePressure   string `toml:"nozzle_pressure"`
	}
	rawInstrument struct {
		Channel    string `toml:"channel"`
		Name       string `toml:"name"`
		Serial     string `toml:"serial"`
		Class      string `toml:"class"`
		Span       string `toml:"span"`
		Zero       string `toml:"zero"`
		Gain       string `toml:"gain"`
		Step       string `toml:"step"`
		Calibrated string `toml:"calibrated"`
		Due        string `toml:"due"`
	}
	rawLimit struct {
		Figure string `toml:"figure"`
		Min    string `toml:"min"`
		Max    string `toml:"max"`
		Source string `toml:"source"`
	}
)

// ParseLibrary reads a library; name stands in the messages. The error names
// every mistake with its line and how to mend it.
func ParseLibrary(name string, data []byte) (*Library, error) {
	var raw rawLibrary
	dec := toml.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&raw); err != nil {
		return nil, placed(name, err)
	}
	r := &libraryReader{name: name, text: string(data)}
	l := &Library{limits: raw.Limit}
	for i := range raw.Pump {
		l.Pumps = append(l.Pumps, r.pump(i, &raw.Pump[i]))
	}
	for i := range raw.Instrument {
		l.Instruments = append(l.Instruments, r.instrument(i, &raw.Instrument[i]))
	}
	for i := range raw.Limit {
		r.limit(i, &raw.Limit[i])
	}
	r.twice(l)
	return l, errors.Join(r.errs...)
}

// placed gives the parser's error its line.
func placed(name string, err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) {
		var all []error
		for i := range strict.Errors {
			e := &strict.Errors[i]
			row, _ := e.Position()
			all = append(all, fmt.Errorf("%s:%d: there is no key %s: check its spelling against the library that headroom bench pumps -print writes", name, row, strings.Join(e.Key(), ".")))
		}
		return errors.Join(all...)
	}
	var decode *toml.DecodeError
	if errors.As(err, &decode) {
		row, _ := decode.Position()
		return fmt.Errorf("%s:%d: %s: write values with a unit as text in quotes", name, row, strings.TrimPrefix(decode.Error(), "toml: "))
	}
	return fmt.Errorf("%s: cannot be read as TOML: %w", name, err)
}

// libraryReader collects mistakes.
type libraryReader struct {
	name, text string
	errs       []error
}

func (r *libraryReader) bad(table string, i int, key, format string, args ...any) {
	r.errs = append(r.errs, fmt.Errorf("%s:%d: %s", r.name, lineOf(r.text, table, i, key), fmt.Sprintf(format, args...)))
}

// lineOf is the line of a key in the i-th element of a table, or that of the
// element's head where it has no such key.
func lineOf(text, table string, i int, key string) int {
	at, head := -1, 1
	for n, line := range strings.Split(text, "\n") {
		line = strings.TrimSpace(line)
		if strings.HasPrefix(line, "[") {
			if at == i {
				return head
			}
			if strings.HasPrefix(strings.ReplaceAll(line, " ", ""), "[["+table+"]]") {
				at, head = at+1, n+1
			}
			continue
		}
		word, _, found := strings.Cut(line, "=")
		if found && at == i && strings.TrimSpace(word) == key {
			return n + 1
		}
	}
	return head
}

// measure reads a value with its unit, within lo to hi in SI; 0 for an empty
// text.
func (r *libraryReader) measure(table string, i int, key, text string, q units.Quantity, lo, hi float64) float64 {
	if text == "" {
		return 0
	}
	si, err := units.Parse(q, text)
	if err != nil && q == units.Fraction {
		si, err = strconv.ParseFloat(text, 64)
	}
	if err != nil {
		r.bad(table, i, key, "%s = %q is no value with a unit: write for example %q", key, text, sampleOf(q))
		return 0
	}
	if !(si >= lo && si <= hi) {
		r.bad(table, i, key, "%s = %q is out of range: give %s to %s", key, text, units.Format(q, units.SI, lo), units.Format(q, units.SI, hi))
		return 0
	}
	return si
}

// sampleOf is a value to show.
func sampleOf(q units.Quantity) string {
	switch q {
	case units.FlowRate:
		return "7.6 L/min"
	case units.Pressure:
		return "9 MPa"
	case units.Speed:
		return "1725 rpm"
	case units.Fraction:
		return "0.5 %"
	}
	return units.Format(q, units.SI, 1)
}

const (
	// mostFlowM3s is far beyond any jetter's flow, mostReliefPa beyond what its
	// valves open at: a value above is a slip of the pen.
	mostFlowM3s  = 0.02
	mostReliefPa = 90e6
)

func (r *libraryReader) pump(i int, p *rawPump) Pump {
	m := func(key, text string, q units.Quantity, lo, hi float64) float64 {
		return r.measure("pump", i, key, text, q, lo, hi)
	}
	out := Pump{
		Name: strings.TrimSpace(p.Name), Serial: p.Serial, Invented: p.Invented, Plungers: p.Plungers,
		FlowM3s: m("flow", p.Flow, units.FlowRate, 1e-6, mostFlowM3s), SpeedHz: m("speed", p.Speed, units.Speed, 0.5, 200),
		PressurePa:     m("pressure", p.Pressure, units.Pressure, 1e5, 60e6),
		DisplacementM3: m("displacement", p.Displacement, units.Volume, 1e-8, 0.01),
		PlungerM:       m("plunger", p.Plunger, units.Bore, 1e-3, 0.2), StrokeM: m("stroke", p.Stroke, units.Bore, 1e-3, 0.5),
		MotorA:           m("motor_current", p.MotorCurrent, units.Current, 0.1, 500),
		PowerFactor:      m("power_factor", p.PowerFactor, units.Fraction, 0.2, 1),
		PowerFactorError: m("power_factor_error", p.PowerFactorError, units.Fraction, 0, 0.3),
		NPSHRequiredM:    m("npsh_required", p.NPSHRequired, units.Head, 0.1, 30),
		ReliefPa:         m("relief", p.Relief, units.Pressure, 1e5, mostReliefPa),
		NozzlePa:         m("nozzle_pressure", p.NozzlePressure, units.Pressure, 1e5, 60e6),
	}
	r.neededOf(i, p, &out)
	return out
}

// neededOf checks what no pump can lack and finds the displacement.
func (r *libraryReader) neededOf(i int, p *rawPump, out *Pump) {
	for _, n := range []struct{ key, text string }{{"name", p.Name}, {"flow", p.Flow}, {"speed", p.Speed}, {"pressure", p.Pressure}} {
		if strings.TrimSpace(n.text) == "" {
			r.bad("pump", i, n.key, "the pump has no %s: write %s = ...", n.key, n.key)
		}
	}
	if p.PowerFactor != "" && p.PowerFactorError == "" {
		r.bad("pump", i, "power_factor", "power_factor stands alone: write power_factor_error too, how far it may be off, for example \"3 %%\"")
	}
	if p.Plunger == "" && p.Stroke == "" && p.Plungers == 0 {
		if p.Displacement == "" {
			r.bad("pump", i, "displacement", "the pump has neither displacement nor plungers, plunger and stroke: write one of them")
		}
		return
	}
	d, ok := wear.DisplacementM3(out.PlungerM, out.StrokeM, out.Plungers)
	if !ok {
		r.bad("pump", i, "plungers", "plungers, plunger and stroke give no displacement: write all three, 1 to 12 plungers")
		return
	}
	if out.DisplacementM3 > 0 && (d > 1.03*out.DisplacementM3 || d < 0.97*out.DisplacementM3) {
		r.bad("pump", i, "displacement", "displacement is %s and the plungers give %s: leave out the one that is wrong",
			fine(units.Volume, units.SI, out.DisplacementM3), fine(units.Volume, units.SI, d))
	}
	if out.DisplacementM3 == 0 {
		out.DisplacementM3 = d
	}
}

func (r *libraryReader) instrument(i int, p *rawInstrument) Instrument {
	ch, ok := frame.ByName(p.Channel)
	if !ok || ch.Digital() {
		r.bad("instrument", i, "channel", "there is no channel %q to measure: write for example outlet_pressure", p.Channel)
		return Instrument{}
	}
	lo, hi := ch.Believable()
	widest := hi - min(lo, 0)
	q := ch.Quantity()
	if q == units.Temperature {
		q = units.TemperatureDifference
	}
	m := func(key, text string, q units.Quantity, hi float64) float64 {
		return r.measure("instrument", i, key, text, q, 0, hi)
	}
	out := Instrument{
		Channel: p.Channel, Name: p.Name, Serial: p.Serial, Calibrated: p.Calibrated, Due: p.Due,
		Zero: m("zero", p.Zero, q, widest), Gain: m("gain", p.Gain, units.Fraction, 0.5), Step: m("step", p.Step, q, widest),
	}
	out.Stated = stated(p)
	r.class(i, p, &out, m("class", p.Class, units.Fraction, 0.5), m("span", p.Span, q, widest))
	for _, d := range []struct{ key, text string }{{"calibrated", p.Calibrated}, {"due", p.Due}} {
		if _, err := time.Parse(time.DateOnly, d.text); d.text != "" && err != nil {
			r.bad("instrument", i, d.key, "%s = %q is no date: write YYYY-MM-DD", d.key, d.text)
		}
	}
	return out
}

// class shares a class between zero and gain so that at full span their
// standard uncertainties together are that of the class.
func (r *libraryReader) class(i int, p *rawInstrument, out *Instrument, class, span float64) {
	const half = 0.7071067811865476 // two such parts add up to one
	switch {
	case p.Class == "" && p.Zero == "" && p.Gain == "":
		r.bad("instrument", i, "class", "the instrument states no error: write class and span, or zero and gain")
	case p.Class != "" && (p.Zero != "" || p.Gain != ""):
		r.bad("instrument", i, "class", "class stands beside zero or gain: leave one of them out")
	case p.Class != "" && p.Span == "":
		out.Gain = class // a class of the reading
	case p.Class != "":
		out.Zero, out.Gain = half*class*span, half*class
	}
}

func stated(p *rawInstrument) string {
	switch {
	case p.Class != "" && p.Span != "":
		return p.Class + " of " + p.Span
	case p.Class != "":
		return p.Class + " of reading"
	case p.Zero == "":
		return p.Gain + " of reading"
	case p.Gain == "":
		return "±" + p.Zero
	}
	return "±" + p.Zero + " and " + p.Gain + " of reading"
}

// twice reports names and channels that stand more than once.
func (r *libraryReader) twice(l *Library) {
	seen := map[string]bool{}
	for i, p := range l.Pumps {
		if key := "pump " + p.Name; seen[key] && p.Name != "" {
			r.bad("pump", i, "name", "a pump of the name %q stands twice: give each its own", p.Name)
		} else {
			seen[key] = true
		}
	}
	for i, p := range l.Instruments {
		if key := "channel " + p.Channel; seen[key] && p.Channel != "" {
			r.bad("instrument", i, "channel", "%s has two instruments: leave one out", p.Channel)
		} else {
			seen[key] = true
		}
	}
}
