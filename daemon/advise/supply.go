package advise

import (
	"flag"
	"fmt"
	"math"
	"strings"

	"headroom/daemon/config"
	"headroom/rules/engine"
	"headroom/rules/hydraulics"
	"headroom/rules/supply"
	"headroom/rules/units"
)

// supplyFlags are the inputs of the supply test as typed.
type supplyFlags struct {
	static, temp, wanted, ret     string
	gaugeError, meterError        string
	tank, tankHead, on, off, job  string
	hoseLength, hoseBore, shorter string
	flowing                       []string
}

// What is assumed where nothing is said, as the flags' defaults write it.
// Common practice, no source.
const (
	gaugeErrorPa = 6894.757293168361
	meterError   = 0.02
	sprayS       = 60
	pauseS       = 30
	jobS         = 1800
)

func bindSupply(fs *flag.FlagSet) answer {
	f := &supplyFlags{}
	fs.StringVar(&f.static, "static", "", "`pressure` at the pump inlet without any flow, gauge")
	fs.Func("flowing", "a flowing `reading`, \"4.1 gpm @ 48 psi\"; once or twice", func(s string) error {
		f.flowing = append(f.flowing, s)
		return nil
	})
	fs.StringVar(&f.temp, "temp", "", "`temperature` of the water; without it 15 °C")
	fs.StringVar(&f.wanted, "wanted", "", "`pressure` wanted at the pump inlet; without it where the config's rule inlet_low warns")
	fs.StringVar(&f.ret, "bypass-to", "", "where the unloader's bypass goes: `inlet` or away; without it away, the harder case")
	fs.StringVar(&f.gaugeError, "gauge-error", "1 psi", "how far the gauge may be off")
	fs.StringVar(&f.meterError, "meter-error", "2 %", "how far the flow meter may be off")
	fs.StringVar(&f.hoseLength, "hose-length", "", "supply hose, `length`; without it the config's")
	fs.StringVar(&f.hoseBore, "hose-bore", "", "supply hose, inner `diameter`; without it the config's")
	fs.StringVar(&f.shorter, "shorter", "", "`length` of a shorter hose that is at hand; without it half of it")
	fs.StringVar(&f.tank, "tank", "", "usable `volume` of a buffer tank that is at hand")
	fs.StringVar(&f.tankHead, "tank-head", "0 m", "how high the tank's water stands above the pump, `length`")
	fs.StringVar(&f.on, "spray", "60 s", "with a tank: `time` of spraying in a cycle")
	fs.StringVar(&f.off, "pause", "30 s", "with a tank: `time` of the pause after it")
	fs.StringVar(&f.job, "job", "30 min", "with a tank: how much `time` it should last")
	return f.answer
}

// reading splits "4.1 gpm @ 48 psi".
func reading(text string) (supply.Reading, error) {
	q, p, ok := strings.Cut(text, "@")
	if !ok {
		return supply.Reading{}, fmt.Errorf("-flowing: %q has no @; write flow and pressure, for example -flowing \"4.1 gpm @ 48 psi\"", text)
	}
	flow, err := parse(units.FlowRate, q)
	if err != nil {
		return supply.Reading{}, fmt.Errorf("-flowing: %w", err)
	}
	pa, err := parse(units.Pressure, p)
	if err != nil {
		return supply.Reading{}, fmt.Errorf("-flowing: %w", err)
	}
	return supply.Reading{FlowM3s: flow, InletGaugePa: pa}, nil
}

// test reads the supply test. The gauge's error counts whole as an offset of
// all its readings and half from one to the next, the meter's likewise; the
// halves are common practice, no source.
func (f *supplyFlags) test() (t supply.Test, err error) {
	if t.StaticGaugePa, err = quantity("static", units.Pressure, f.static, 0); err != nil {
		return t, err
	}
	if n := len(f.flowing); n < 1 || n > 2 {
		return t, fmt.Errorf("-flowing was given %d times; write it once or twice, for example -flowing \"4.1 gpm @ 48 psi\"", n)
	}
	t.Count = len(f.flowing)
	for i, text := range f.flowing {
		if t.Flowing[i], err = reading(text); err != nil {
			return t, err
		}
	}
	g, err := positive("gauge-error", units.Pressure, f.gaugeError, 0)
	if err != nil {
		return t, err
	}
	m, err := positive("meter-error", units.Fraction, f.meterError, 0)
	t.Tolerance = supply.Tolerance{PressureOffsetPa: g, PressureRepeatPa: g / 2, FlowGain: m, FlowRepeat: m / 2}
	return t, err
}

// need is what the config's pump and nozzle ask for.
func (f *supplyFlags) need(c *config.Config) (n supply.Need, err error) {
	n.PumpM3s = c.Engine.Machine.RatedFlowM3s
	if n.PumpM3s <= 0 {
		return n, fmt.Errorf("the config states no rated flow of the pump; set machine.rated_flow")
	}
	n.NozzleM3s = nozzleFlow(c)
	switch f.ret {
	case "inlet":
		n.Return = supply.ReturnToInlet
	case "away":
		n.Return = supply.ReturnAway
	case "":
	default:
		return n, fmt.Errorf("-bypass-to: %q is unknown; write inlet or away", f.ret)
	}
	limit := &c.Engine.Rules[engine.InletLow]
	fallback := limit.Warn
	if !limit.HasWarn {
		fallback = 0
	}
	n.InletGaugePa, err = quantity("wanted", units.Pressure, f.wanted, fallback)
	return n, err
}

// nozzleFlow is what the config's hose and nozzle take at the pump's rated
// pressure; 0 where it isn't known.
func nozzleFlow(c *config.Config) float64 {
	k, h, p := c.Engine.Plant.NozzleFactor, c.Engine.Plant.HoseCoefficient, c.Engine.Machine.RatedOutletPa
	if k <= 0 || p <= 0 {
		return 0
	}
	return math.Sqrt(p / (h + 1/(k*k)))
}

// site is what is known of hose and tank.
func (f *supplyFlags) site(c *config.Config, densityKgM3 float64) (s supply.Site, err error) {
	s.DensityKgM3 = densityKgM3
	r := reader{&err}
	s.Hose = supply.Hose{LengthM: c.SupplyHose.LengthM, BoreM: c.SupplyHose.BoreM}
	r.optional(&s.Hose.LengthM, "hose-length", units.Length, f.hoseLength)
	r.optional(&s.Hose.BoreM, "hose-bore", units.Bore, f.hoseBore)
	r.optional(&s.ShorterM, "shorter", units.Length, f.shorter)
	r.optional(&s.TankM3, "tank", units.Volume, f.tank)
	r.optional(&s.TankHeadM, "tank-head", units.Length, f.tankHead)
	r.optional(&s.Duty.OnS, "spray", units.Duration, f.on)
	r.optional(&s.Duty.OffS, "pause", units.Duration, f.off)
	r.optional(&s.Duty.JobS, "job", units.Duration, f.job)
	return s, err
}

// reader reads several flags and keeps the first error.
type reader struct{ err *error }

// optional overwrites v when the flag was written.
func (r reader) optional(v *float64, name string, q units.Quantity, text string) {
	if strings.TrimSpace(text) == "" || *r.err != nil {
		return
	}
	got, err := quantity(name, q, text, 0)
	if err == nil && got < 0 {
		err = fmt.Errorf("-%s: %q must not be negative", name, text)
	}
	if err != nil {
		*r.err = err
		return
	}
	*v = got
}

func (f *supplyFlags) answer(c *config.Config, sys units.System) (Advice, error) {
	t, err := f.test()
	if err != nil {
		return Advice{}, err
	}
	n, err := f.need(c)
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
	s, err := f.site(c, w.DensityKgM3)
	if err != nil {
		return Advice{}, err
	}
	j := supply.Judge(t, n)
	if j.Verdict == supply.VerdictUnknown {
		return Advice{}, refused(j.Result)
	}
	a := Advice{Topic: "supply", Verdict: j.Verdict.String(), sys: sys}
	a.supplyText(c, t, n, j)
	a.curves(t, j)
	a.helps(supply.Advise(t, n, s, friction(w, hydraulics.RubberHoseRoughnessM)), j, s)
	a.supplyNotes(j)
	return a, nil
}
