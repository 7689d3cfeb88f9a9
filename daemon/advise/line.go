package advise

import (
	"flag"
	"fmt"
	"math"

	"headroom/daemon/config"
	"headroom/rules/hydraulics"
	"headroom/rules/nozzle"
	"headroom/rules/units"
)

// jetCd is the discharge coefficient of a rounded jet's hole, common practice,
// no source; NFPA 291 has 0.9 for a rounded outlet of a hydrant.
const jetCd = 0.9

type lineFlags struct {
	line, length, temp string
	holes              int
}

func bindLine(fs *flag.FlagSet) answer {
	f := &lineFlags{}
	fs.StringVar(&f.line, "line", "", "nominal `diameter` of the drain line")
	fs.StringVar(&f.length, "hose-length", "", "jetting hose in use, on the reel too, `length`; without it the config's")
	fs.StringVar(&f.temp, "temp", "", "`temperature` of the water; without it 15 °C")
	fs.IntVar(&f.holes, "holes", 0, "`number` of equal jets of the head; without it the config's")
	return f.answer
}

func (f *lineFlags) answer(c *config.Config, sys units.System) (Advice, error) {
	lineM, err := positive("line", units.Bore, f.line, 0)
	if err != nil {
		return Advice{}, err
	}
	lengthM, err := positive("hose-length", units.Length, f.length, c.PressureHose.LengthM)
	if err != nil {
		return Advice{}, err
	}
	tempK, err := quantity("temp", units.Temperature, f.temp, tapK)
	if err != nil {
		return Advice{}, err
	}
	w, err := liquid("temp", tempK)
	if err != nil {
		return Advice{}, err
	}
	holes := f.holes
	if holes == 0 {
		holes = max(int(c.Nozzle.Orifices), 1)
	}
	job := nozzle.Job{LineM: lineM, HoseLengthM: lengthM, Cd: jetCd, Holes: holes, DensityKgM3: w.DensityKgM3}
	pump := nozzle.Pump{FlowM3s: c.Engine.Machine.RatedFlowM3s, RatedPa: c.Engine.Machine.RatedOutletPa}
	if pump.FlowM3s <= 0 || pump.RatedPa <= 0 {
		return Advice{}, fmt.Errorf("the config states no rated flow or pressure of the pump; set machine.rated_flow and machine.rated_pressure")
	}
	r := nozzle.Recommend(job, pump, friction(w, hydraulics.DrawnTubingRoughnessM))
	switch r.Status {
	case nozzle.RecommendOK:
	case nozzle.LineOutOfTable:
		return Advice{}, fmt.Errorf("-line: %s is outside the trade's table, which reaches from 1 1/4 in to 8 in (32 to 203 mm)", units.Format(units.Bore, sys, lineM))
	case nozzle.FrictionOutOfRange:
		return Advice{}, fmt.Errorf("-hose-length: the friction of the pump's flow in this hose is out of the range that is modelled; check length and temperature")
	default:
		return Advice{}, fmt.Errorf("-hose-length, -holes: %w", errInput)
	}
	a := Advice{Topic: "line", sys: sys}
	a.lineText(c, job, pump, r)
	return a, nil
}

func (a *Advice) lineText(c *config.Config, job nozzle.Job, pump nozzle.Pump, r nozzle.Recommendation) {
	best := r.Usual
	a.Verdict = "fits"
	switch {
	case !best.TooSmall():
		a.Headline = c.Name + " suits this line with the usual hose."
	case r.Larger.Known && !r.Larger.TooSmall():
		a.Verdict, best = "larger_hose", r.Larger
		a.Headline = c.Name + " suits this line with the next larger hose, not with the usual one."
	default:
		a.Verdict = "too_small"
		a.Headline = c.Name + " is too small for this line by the trade's table."
	}
	a.put("line", units.Bore, job.LineM)
	a.put("hose_length", units.Length, job.HoseLengthM)
	a.say("The pump gives %s and is rated for %s. For a line of %s the trade uses %s at %s.",
		a.put("pump_flow", units.FlowRate, pump.FlowM3s), a.put("rated_pressure", units.Pressure, pump.RatedPa), a.size(job.LineM),
		a.between(units.FlowRate, r.Usual.Row.FlowMinM3s, r.Usual.Row.FlowMaxM3s), a.between(units.Pressure, r.Usual.Row.PressureMinPa, r.Usual.Row.PressureMaxPa))
	a.choice("usual", "The usual hose", job, r.Usual)
	if r.Larger.Known {
		a.choice("larger", "The next larger hose", job, r.Larger)
	}
	if best.Short.Has(nozzle.FlowHigh) {
		a.note("The pump's flow is more than the trade sends through this hose: much of the pressure is lost in it.")
	}
	a.note("The table of lines, hoses, flows and pressures is common practice, no source, and so is the rule that half of its least pressure should reach the nozzle.")
	a.note("The hole is for a discharge coefficient of %.1f and %s; a head's own figure differs. The size number is the trade's: US gallons a minute at 4000 psi.", job.Cd, jets(job.Holes))
	a.note("Whether the larger hose passes the bends is for the eye on the site. Never exceed the rating of hose, head and pump.")
}

func (a *Advice) choice(key, name string, job nozzle.Job, c nozzle.Choice) {
	bore := a.putSize(key+"_hose_bore", c.Row.HoseBoreM)
	loss := a.put(key+"_hose_loss", units.Pressure, c.FrictionPa)
	length := a.show(units.Length, job.HoseLengthM)
	if c.Short.Has(nozzle.HoseTakesAll) {
		a.say("%s, %s: over %s it would take %s at the pump's flow, as much as the pump is rated for or more. It can't be used.", name, bore, length, loss)
		return
	}
	a.put(key+"_nozzle_number", units.None, c.Number)
	a.say("%s, %s: over %s it takes %s at the pump's flow and leaves %s for the nozzle, %s of power. The nozzle for it has size number %.1f: %d x %s.%s",
		name, bore, length, loss, a.put(key+"_nozzle_pressure", units.Pressure, c.LeftPa), a.put(key+"_nozzle_power", units.Power, c.NozzlePowerW),
		math.Round(c.Number*10)/10, job.Holes, a.put(key+"_hole", units.Bore, c.DiameterM), short(c.Short))
}

// jets is their number in words.
func jets(n int) string {
	if n == 1 {
		return "a single jet"
	}
	return fmt.Sprintf("%d equal jets", n)
}

// short says why pump, hose and line don't fit.
func short(s nozzle.Shortfall) string {
	text := ""
	for _, r := range [...]struct {
		short nozzle.Shortfall
		text  string
	}{
		{nozzle.FlowLow, " The pump's flow is below what carries the debris of a line this size."},
		{nozzle.RatedPressureLow, " The pump's rated pressure is below the trade's range."},
		{nozzle.NozzlePressureLow, " Too little pressure is left for the nozzle."},
	} {
		if s.Has(r.short) {
			text += r.text
		}
	}
	return text
}
