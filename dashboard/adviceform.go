package dashboard

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"headroom/rules/units"
)

// adviceField is a field of a question as the page draws it.
type adviceField struct {
	AdviceField
	ID string
	// Inputs are one box, or a reading's two; without any it is a choice.
	Inputs []adviceInput
	// Chosen of a choice.
	Chosen string
	stands string
}

// Told is what stands below the label.
func (f adviceField) Told() string {
	if f.stands == "" {
		return f.Help
	}
	return strings.TrimSpace(f.Help + " Without it: " + f.stands + ".")
}

// adviceInput is a box with the unit beside it.
type adviceInput struct{ ID, Name, Label, Value, Unit string }

// written says that a person filled it in.
func (f *adviceField) written() bool {
	for _, in := range f.Inputs {
		if in.Value != "" {
			return true
		}
	}
	return f.Chosen != ""
}

// adviceForm reads the fields of a question from an address. Bare numbers are
// in the units that the form had when it was sent, which the address names, so
// that a link means the same to whoever reads other units.
type adviceForm struct {
	q           url.Values
	from, shown units.System
	asked       bool
	values      map[string][]string
	err         error
}

func newAdviceForm(q url.Values, shown units.System) *adviceForm {
	f := &adviceForm{q: q, from: shown, shown: shown, values: map[string][]string{}}
	if sys, ok := parseSystem(q.Get("in")); ok {
		f.from = sys
	}
	return f
}

// field reads one field, for the n-th time that it may be given.
func (form *adviceForm) field(f AdviceField, n int) adviceField {
	out := adviceField{AdviceField: f, ID: f.Name + strconv.Itoa(n), stands: f.Without}
	out.Needed = f.Needed && n == 0
	if n > 0 {
		out.Label += ", once more"
	}
	if f.Fallback != 0 && f.Unit == "" {
		out.stands = units.Format(f.Quantity, form.shown, f.Fallback)
	} else if f.Fallback != 0 {
		u, _ := units.Lookup(f.Quantity, f.Unit)
		out.stands = strconv.FormatFloat(u.FromSI(f.Fallback), 'f', -1, 64) + " " + f.Unit
	}
	switch f.Kind {
	case AdviceChoice:
		out.Chosen = form.text(f.Name, n)
		form.keep(f.Name, out.Chosen)
	case AdviceReading:
		form.reading(&out, n)
	case AdviceMeasure, AdviceCount:
		in, text, err := form.box(out.Label, f.Name, f.Kind, f.Quantity, f.Unit, n)
		in.ID = out.ID
		out.Inputs = []adviceInput{in}
		form.fail(err)
		form.keep(f.Name, text)
	}
	if out.Needed && len(form.values[f.Name]) == 0 {
		form.fail(fmt.Errorf("“%s” is needed for an answer", f.Label))
	}
	return out
}

// text is what was written into a box.
func (form *adviceForm) text(name string, n int) string {
	texts := form.q[name]
	form.asked = form.asked || form.q.Has(name)
	if n >= len(texts) {
		return ""
	}
	return strings.TrimSpace(texts[n])
}

// box is a number with its unit, as drawn and as the adviser takes it.
func (form *adviceForm) box(label, name string, kind AdviceKind, q units.Quantity, unit string, n int) (in adviceInput, text string, err error) {
	from, to := units.For(q, form.from), units.For(q, form.shown)
	if u, ok := units.Lookup(q, unit); ok && unit != "" {
		from, to = u, u
	}
	in = adviceInput{Name: name, Label: label, Unit: to.Symbol, Value: form.text(name, n)}
	if kind == AdviceCount {
		in.Unit = ""
		return in, in.Value, nil
	}
	if in.Value == "" {
		return in, "", nil
	}
	if text, err = typedNumber(in.Value, from.Symbol); err != nil {
		return in, "", fmt.Errorf("“%s”: %w", label, err)
	}
	in.Value = otherUnit(in.Value, from, to)
	if number, same := strings.CutSuffix(in.Value, " "+to.Symbol); same {
		in.Value = number
	}
	return in, text, nil
}

// reading is a flow and the pressure meanwhile. An address may also hold both
// in one, as the command takes it.
func (form *adviceForm) reading(out *adviceField, n int) {
	name := out.Name
	if both := form.text(name, n); both != "" {
		flow, pressure, _ := strings.Cut(both, "@")
		form.q = withReading(form.q, name, n, flow, pressure)
	}
	flow, q, errQ := form.box("Flow", name+"-flow", AdviceMeasure, units.FlowRate, "", n)
	pressure, p, errP := form.box("Pressure", name+"-pressure", AdviceMeasure, units.Pressure, "", n)
	flow.ID, pressure.ID = out.ID+"q", out.ID+"p"
	out.Inputs = []adviceInput{flow, pressure}
	form.fail(errQ)
	form.fail(errP)
	switch {
	case q != "" && p != "":
		form.keep(name, q+" @ "+p)
	case q != "" || p != "":
		form.fail(fmt.Errorf("“%s” wants both, the flow and the pressure", out.Label))
	}
}

// withReading is an address with a reading's two parts in boxes of their own.
func withReading(q url.Values, name string, n int, flow, pressure string) url.Values {
	out := url.Values{}
	for k, v := range q {
		out[k] = append([]string(nil), v...)
	}
	for part, text := range map[string]string{name + "-flow": flow, name + "-pressure": pressure} {
		for len(out[part]) <= n {
			out[part] = append(out[part], "")
		}
		out[part][n] = text
	}
	return out
}

func (form *adviceForm) keep(name, text string) {
	if text != "" {
		form.values[name] = append(form.values[name], text)
	}
}

// fail keeps the first mistake.
func (form *adviceForm) fail(err error) {
	if form.err == nil {
		form.err = err
	}
}
