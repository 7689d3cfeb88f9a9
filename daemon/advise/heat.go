package advise

import (
	"flag"
	"fmt"

	"headroom/daemon/config"
	"headroom/rules/engine"
	"headroom/rules/heat"
	"headroom/rules/units"
	"headroom/rules/water"
)

type heatFlags struct{ temp, limit, power, volume, exchange, supply string }

func bindHeat(fs *flag.FlagSet) answer {
	f := &heatFlags{}
	fs.StringVar(&f.temp, "temp", "", "`temperature` of the water now")
	fs.StringVar(&f.limit, "limit", "", "`temperature` that it shall not exceed; without it where the config's rule water_hot acts")
	fs.StringVar(&f.power, "power", "", "`power` that heats the water; without it the config's bypass_power")
	fs.StringVar(&f.volume, "volume", "", "`volume` of the water that goes round; without it the config's bypass_volume")
	fs.StringVar(&f.exchange, "exchange", "0 L/min", "`flow` of fresh water through the loop meanwhile")
	fs.StringVar(&f.supply, "supply-temp", "", "`temperature` of the fresh water; without it 15 °C")
	return f.answer
}

// heatInput is what the answer is computed from.
type heatInput struct {
	loop                    heat.Loop
	tempK, limitK, volumeM3 float64
}

func (f *heatFlags) input(c *config.Config) (in heatInput, err error) {
	m, hot := &c.Engine.Machine, &c.Engine.Rules[engine.WaterHot]
	limit := heat.DefaultSupplyLimitK
	if hot.HasAct {
		limit = hot.Act
	}
	if in.tempK, err = quantity("temp", units.Temperature, f.temp, 0); err != nil {
		return in, err
	}
	if in.limitK, err = quantity("limit", units.Temperature, f.limit, limit); err != nil {
		return in, err
	}
	if in.loop.PowerW, err = positive("power", units.Power, f.power, m.BypassPowerW); err != nil {
		return in, err
	}
	if in.volumeM3, err = positive("volume", units.Volume, f.volume, m.BypassVolumeM3); err != nil {
		return in, err
	}
	if in.loop.SupplyK, err = quantity("supply-temp", units.Temperature, f.supply, tapK); err != nil {
		return in, err
	}
	exchange, err := quantity("exchange", units.FlowRate, f.exchange, 0)
	if err != nil {
		return in, err
	}
	p, ok := water.Props(in.tempK, atPa)
	if !ok {
		return in, errWater("temp")
	}
	in.loop.WaterKg, in.loop.HeatJKgK, in.loop.ExchangeKgs = in.volumeM3*p.DensityKgM3, p.SpecificHeatJKgK, exchange*p.DensityKgM3
	return in, nil
}

func (f *heatFlags) answer(c *config.Config, sys units.System) (Advice, error) {
	in, err := f.input(c)
	if err != nil {
		return Advice{}, err
	}
	l, p := in.loop, in.loop.Approach(in.tempK, in.limitK)
	a := Advice{Topic: "heat", Verdict: p.Status.String(), sys: sys}
	limit := a.put("limit", units.Temperature, in.limitK)
	switch p.Status {
	case heat.ApproachHeating:
		a.Headline = "The water reaches " + limit + " in " + a.put("time_to_limit", units.Duration, p.Seconds) + "."
	case heat.ApproachReached:
		a.Headline = "The water is at " + limit + " or above it now. Open the trigger or stop the pump."
	case heat.ApproachNever:
		a.Headline = "The water stays below " + limit + "."
	default:
		return Advice{}, fmt.Errorf("-power, -volume, -exchange, -limit: %w", errInput)
	}
	a.say("With %s going round at %s, heated by %s, the water warms by %s a minute.", a.put("volume", units.Volume, in.volumeM3),
		a.put("temp", units.Temperature, in.tempK), a.put("power", units.Power, l.PowerW), a.show(units.TemperatureDifference, p.RateKMin))
	a.Values = append(a.Values, Value{"rate", p.RateKs, "K/s"})
	if l.ExchangeKgs > 0 {
		text := fmt.Sprintf("Fresh water of %s comes in meanwhile", a.put("supply_temp", units.Temperature, l.SupplyK))
		if te, ok := l.EquilibriumK(); ok {
			text += fmt.Sprintf(", and the loop would settle at %s", a.put("settles_at", units.Temperature, te))
		}
		a.say("%s.", text)
	}
	a.note("The metal's heat and the loss to the air are left out, so that the loop warms somewhat slower than told.")
	a.note("The limit is common practice, no source, unless the pump's manual gives one. All of the pump's power heats the water while the trigger is shut; the pump's share that stays in the machine is not subtracted.")
	return a, nil
}
