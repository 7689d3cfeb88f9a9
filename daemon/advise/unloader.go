package advise

import (
	"flag"
	"fmt"
	"math"

	"headroom/daemon/config"
	"headroom/rules/circuit"
	"headroom/rules/circuit/unloader"
	"headroom/rules/units"
)

type unloaderFlags struct{ current, limit, noLoad, pressure, flow, nozzle string }

func bindUnloader(fs *flag.FlagSet) answer {
	f := &unloaderFlags{}
	fs.StringVar(&f.current, "current", "", "the motor's `current` now, at the pressure given")
	fs.StringVar(&f.limit, "limit", "", "`current` that it shall not exceed; without it 80 % of the config's circuit")
	fs.StringVar(&f.noLoad, "no-load", "", "`current` with the pump turning and the unloader dumping; without it the config's motor")
	fs.StringVar(&f.pressure, "pressure", "", "`pressure` at the pump's outlet now, gauge")
	fs.StringVar(&f.flow, "flow", "", "`flow` through the nozzle now; without it the config's, by its nozzle and the pressure")
	fs.StringVar(&f.nozzle, "nozzle-pressure", "", "`pressure` in front of the nozzle now; without it the outlet's stands in")
	return f.answer
}

func (f *unloaderFlags) input(c *config.Config) (in unloader.Input, err error) {
	in.Method = unloader.ByLine
	if in.NowA, err = positive("current", units.Current, f.current, 0); err != nil {
		return in, err
	}
	limit, _ := circuit.ContinuousLimitA(c.Circuit.RatingA, false)
	if in.LimitA, err = positive("limit", units.Current, f.limit, limit); err != nil {
		return in, err
	}
	if in.NoLoadA, err = quantity("no-load", units.Current, f.noLoad, c.Motor.NoLoadA); err != nil {
		return in, err
	}
	if in.PumpPa, err = positive("pressure", units.Pressure, f.pressure, 0); err != nil {
		return in, err
	}
	if in.NozzlePa, err = positive("nozzle-pressure", units.Pressure, f.nozzle, in.PumpPa); err != nil {
		return in, err
	}
	in.NozzleM3s, err = positive("flow", units.FlowRate, f.flow, flowAt(c, in.PumpPa))
	return in, err
}

// flowAt is what the config's nozzle and hose take at a pressure, at most the
// pump's flow; 0 where it isn't known.
func flowAt(c *config.Config, pumpPa float64) float64 {
	k, h := c.Engine.Plant.NozzleFactor, c.Engine.Plant.HoseCoefficient
	if k <= 0 {
		return c.Engine.Machine.RatedFlowM3s
	}
	q := math.Sqrt(pumpPa / (h + 1/(k*k)))
	if p := c.Engine.Machine.RatedFlowM3s; p > 0 {
		q = min(q, p)
	}
	return q
}

func (f *unloaderFlags) answer(c *config.Config, sys units.System) (Advice, error) {
	in, err := f.input(c)
	if err != nil {
		return Advice{}, err
	}
	r, why, ok := unloader.Advise(in)
	if why == unloader.ReasonInput {
		return Advice{}, fmt.Errorf("-current, -limit, -no-load, -pressure, -flow: %w", errInput)
	}
	a := Advice{Topic: "unloader", Verdict: why.String(), sys: sys}
	a.say("The motor draws %s at %s and %s without pressure; it shall not exceed %s.",
		a.put("current", units.Current, in.NowA), a.put("pressure", units.Pressure, in.PumpPa),
		a.put("no_load_current", units.Current, in.NoLoadA), a.put("limit", units.Current, in.LimitA))
	if ok && why == unloader.ReasonOK {
		a.turnDown(r)
	}
	a.unloaderHeadline(why, r)
	if rated := c.Engine.Machine.RatedOutletPa; rated > 0 && in.PumpPa > rated {
		a.say("But %s is above the pump's rating of %s: turn the unloader down to that first, whatever the current.",
			a.put("pressure", units.Pressure, in.PumpPa), a.put("rated_pressure", units.Pressure, rated))
	}
	a.note("80 %% of the circuit's rating for equipment on a cord and plug is NFPA 70 210.23(A)(1), read from a secondary page. Local code decides.")
	a.note("Computed along a straight line from the no-load current through the reading. Turn in small steps with the trigger open, and watch the current.")
	return a, nil
}

func (a *Advice) unloaderHeadline(why unloader.Reason, r unloader.Advice) {
	switch why {
	case unloader.ReasonOK:
		a.Headline = "Turn the unloader down to " + a.show(units.Pressure, r.PumpPa) + ", " + a.show(units.Pressure, r.CutPa) + " less than now."
	case unloader.ReasonNotNeeded:
		a.Headline = "Leave the unloader where it is: the current is at or below the limit."
	case unloader.ReasonBelowNoLoad:
		a.Headline = "No setting of the unloader helps: the limit is at or below what the motor draws without pressure. Use a stronger circuit."
	case unloader.ReasonTooLow:
		a.Headline = "The pressure would have to fall below a tenth of now, where nothing is cleaned. Use a stronger circuit."
	default:
		a.Headline = "The readings contradict each other: the no-load current must be below the present one. Read both again."
	}
}

func (a *Advice) turnDown(r unloader.Advice) {
	a.put("pressure_cut", units.Pressure, r.CutPa)
	a.say("At %s it draws %s. The nozzle then gets %.0f %% of the flow, %s, and %.0f %% of the cleaning power: %s of %s now.",
		a.put("turn_down_to", units.Pressure, r.PumpPa), a.put("predicted_current", units.Current, r.PredictedA),
		r.FlowShare*100, a.put("nozzle_flow", units.FlowRate, r.NozzleM3s), r.PowerShare*100,
		a.put("nozzle_power", units.Power, r.NozzleW), a.put("nozzle_power_now", units.Power, r.NowW))
	a.put("flow_share", units.Fraction, r.FlowShare)
	a.put("power_share", units.Fraction, r.PowerShare)
	a.help("A nozzle of a larger size number lowers pressure and current likewise, without sending water round through the unloader.")
}
