package advise

import (
	"fmt"
	"strings"

	"headroom/daemon/config"
	"headroom/rules/supply"
	"headroom/rules/units"
)

// refusals say why readings can't be used. Constant data.
var refusals = map[supply.Status]string{
	supply.InputUnknown:          "a reading is missing or no number",
	supply.OutOfRange:            "a number lies out of the range that is modelled; check its unit",
	supply.StaticNotPositive:     "there is no pressure without flow: the tap is shut, the hose is empty or the gauge is wrong",
	supply.FlowNotPositive:       "a flowing reading has no flow",
	supply.FlowingAboveStatic:    "the pressure with flow is above that without: someone else stopped drawing water, or the readings are mixed up",
	supply.FlowingBelowZero:      "the inlet was sucked below the atmosphere, so that the hose may have collapsed",
	supply.DropUnresolved:        "the pressure dropped by no more than the gauge's error",
	supply.PressureRisesWithFlow: "the larger flow came with the larger pressure",
	supply.ReadingsDisagree:      "the same flow came with two pressures",
}

// refused is the error for a test that can't be used, with what to repeat.
func refused(r supply.Result) error {
	var again []string
	if r.Repeat.Has(supply.RepeatStatic) {
		again = append(again, "-static")
	}
	if r.Repeat.Has(supply.RepeatFirst) {
		again = append(again, "the first -flowing")
	}
	if r.Repeat.Has(supply.RepeatSecond) {
		again = append(again, "the second -flowing")
	}
	text := "the supply test can't be used: " + refusals[r.Status]
	if len(again) > 0 {
		text += "; take again " + strings.Join(again, " and ")
	}
	switch {
	case r.Repeat.Has(supply.MoreFlow):
		text += ", with more flow"
	case r.Repeat.Has(supply.LessFlow):
		text += ", with less flow"
	}
	return fmt.Errorf("%s", text)
}

func (a *Advice) supplyText(c *config.Config, t supply.Test, n supply.Need, j supply.Judgement) {
	d := j.Governing()
	switch j.Verdict {
	case supply.Yes:
		a.Headline = "Yes: this supply is enough for " + c.Name + "."
	case supply.Marginal:
		a.Headline = "Marginal: whether this supply is enough for " + c.Name + " can't be told for sure."
	default:
		a.Headline = "No: this supply is not enough for " + c.Name + "."
	}
	read := "Read at the pump inlet: " + a.put("static_pressure", units.Pressure, t.StaticGaugePa) + " without flow"
	for i := range t.Count {
		r := t.Flowing[i]
		read += ", " + a.put(fmt.Sprintf("flowing_pressure_%d", i+1), units.Pressure, r.InletGaugePa) +
			" at " + a.put(fmt.Sprintf("flowing_flow_%d", i+1), units.FlowRate, r.FlowM3s)
	}
	a.say("%s.", read)
	a.say("%s", a.demand(n, j)+" The pressure wanted at the pump is "+a.put("wanted_pressure", units.Pressure, n.InletGaugePa)+".")
	f := j.Result.Flow
	a.say("At that pressure the supply gives %s, by the power law %s and by the square law %s.",
		a.between(units.FlowRate, max(f.Low, 0), max(f.High, 0)), a.put("flow_power_law", units.FlowRate, f.Power.Value), a.put("flow_square_law", units.FlowRate, f.Square.Value))
	a.put("flow_low", units.FlowRate, f.Low)
	a.put("flow_high", units.FlowRate, f.High)
	a.put("flow_spread", units.FlowRate, f.Spread)
	a.put("required_flow", units.FlowRate, d.RequiredM3s)
	if d.Inlet.OK {
		a.put("inlet_low", units.Pressure, d.Inlet.Low)
		a.put("inlet_high", units.Pressure, d.Inlet.High)
		a.say("While it draws %s the inlet keeps %s.", a.show(units.FlowRate, d.RequiredM3s), a.between(units.Pressure, d.Inlet.Low, d.Inlet.High))
		return
	}
	a.say("It can't draw %s: the inlet would be sucked into a vacuum, and the hose may collapse.", a.show(units.FlowRate, d.RequiredM3s))
}

// demand says which flow counts and why.
func (a *Advice) demand(n supply.Need, j supply.Judgement) string {
	text := "The pump moves " + a.put("pump_flow", units.FlowRate, n.PumpM3s) + " at its rated speed"
	if n.NozzleM3s > 0 {
		text += "; hose and nozzle would take " + a.put("nozzle_flow", units.FlowRate, n.NozzleM3s) + " at its rated pressure"
	}
	switch {
	case j.ByNozzle:
		return text + ". The bypass goes back to the inlet, so only what leaves through the nozzle counts."
	case n.Return == supply.ReturnAway:
		return text + ". The bypass goes away, so the pump's whole flow counts."
	}
	return text + ". It isn't said where the bypass goes, so the pump's whole flow counts."
}

// curves is the table of both laws at a few flows around the demand.
func (a *Advice) curves(t supply.Test, j supply.Judgement) {
	a.Table = [][]string{{"flow", "power law", "square law", "apart"}}
	need := j.Governing().RequiredM3s
	for _, share := range [...]float64{0.5, 0.75, 1, 1.25, 1.5, 2} {
		q := need * share
		p, okP := t.Pressure(supply.PowerLaw, q)
		s, okS := t.Pressure(supply.Square, q)
		row := []string{a.show(units.FlowRate, q), a.orVacuum(p, okP), a.orVacuum(s, okS), "--"}
		if okP && okS {
			row[3] = a.show(units.Pressure, max(p-s, s-p))
		}
		a.Table = append(a.Table, row)
	}
}

func (a *Advice) orVacuum(pa float64, ok bool) string {
	if !ok {
		return "below a vacuum"
	}
	return a.show(units.Pressure, pa)
}

func (a *Advice) supplyNotes(j supply.Judgement) {
	f := j.Result.Flags
	for _, n := range [...]struct {
		flag supply.Flags
		text string
	}{
		{supply.WeakDrop, "The pressure dropped by less than 10 % of the static one, the least that NFPA 291 asks for (from memory). Test with more flow for a surer answer."},
		{supply.Extrapolated, "What the supply gives lies above the largest flow that was tested, so the curves are drawn beyond the readings."},
		{supply.FlowsTooClose, "The two flowing readings are too alike to tell the shape of the curve. Take them further apart."},
		{supply.ExponentOdd, "The two flowing readings fit no passive supply: somebody else drew water, or a valve or regulator moved. Repeat the test."},
		{supply.UncertaintyUnknown, "The errors of gauge and meter are too large beside the drop to be carried through."},
		{supply.StaticBelowWanted, "Even without flow the pressure is below the wanted one."},
	} {
		if f.Has(n.flag) {
			a.note("%s", n.text)
		}
	}
	if e := j.Result.Exponent; e.Known {
		a.put("exponent", units.None, e.N)
		a.note("The drop goes with the flow to the power of %.2f; the power law has 1.85 and the square law 2.", e.N)
	}
	a.note("The power law is that of hydrant flow tests (NFPA 291, from memory), the square law that of a rough hose and a tap. The wanted inlet pressure is common practice, no source, unless the pump's manual gives one.")
}
