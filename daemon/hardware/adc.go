package hardware

import (
	"errors"
	"fmt"
	"slices"

	"headroom/daemon/config"
	"headroom/rules/frame"
	"headroom/sensors/adc"
	"headroom/sensors/convert"
)

// addConverters makes one driver for each I2C bus.
func (e Env) addConverters(cfg *config.Config, s *Set) error {
	var buses []int
	for _, a := range cfg.Sensors.ADC {
		if !slices.Contains(buses, a.Bus) {
			buses = append(buses, a.Bus)
		}
	}
	var all []error
	for _, number := range buses {
		var lines []int
		for _, a := range cfg.Sensors.ADC {
			if a.Bus == number {
				lines = append(lines, a.Line)
			}
		}
		all = append(all, on(e.addBus(cfg, s, number), "sensors.adc", lines...))
	}
	return errors.Join(all...)
}

func (e Env) addBus(cfg *config.Config, s *Set, number int) error {
	bus := &lazyBus{number: number, open: e.OpenI2C}
	opt := adc.Options{
		Bus: bus, Name: fmt.Sprintf("converters on %s", bus), Period: cfg.Sensors.Scan, BusHz: cfg.Sensors.I2CHz, MainsHz: cfg.Sensors.MainsHz,
	}
	for i := range cfg.Sensors.ADC {
		a := &cfg.Sensors.ADC[i]
		if a.Bus != number {
			continue
		}
		at := slices.IndexFunc(opt.Chips, func(c adc.Chip) bool { return c.Addr == a.Address })
		if at < 0 {
			at = len(opt.Chips)
			opt.Chips = append(opt.Chips, adc.Chip{Addr: a.Address})
		}
		c := &opt.Chips[at]
		c.Continuous = c.Continuous || a.Continuous
		if a.ConverterSupplyV != 0 {
			c.SupplyV = a.ConverterSupplyV
		}
		in, cell, err := input(a)
		if err != nil {
			return err
		}
		c.Inputs = append(c.Inputs, in)
		if cell != nil && a.Channel < frame.NumChannels {
			s.raw[a.Channel] = cell.words
		}
	}
	d, err := adc.New(opt)
	if err != nil {
		return err
	}
	for _, a := range cfg.Sensors.ADC {
		if a.Bus == number && a.Kind == config.KindTransformer {
			s.raw[a.Channel] = func() string { return waveWords(d, a.Name) }
		}
	}
	s.Drivers = append(s.Drivers, converters{d, bus})
	return nil
}

// pins and rates are the config's words for the driver's constants.
var (
	pins = map[string]adc.Mux{
		"AIN0": adc.AIN0, "AIN1": adc.AIN1, "AIN2": adc.AIN2, "AIN3": adc.AIN3, "AIN0-AIN1": adc.Diff01, "AIN2-AIN3": adc.Diff23,
	}
	ranges = []adc.Range{adc.FS0V256, adc.FS0V512, adc.FS1V024, adc.FS2V048, adc.FS4V096, adc.FS6V144}
	rates  = []adc.Rate{adc.SPS8, adc.SPS16, adc.SPS32, adc.SPS64, adc.SPS128, adc.SPS250, adc.SPS475, adc.SPS860}
)

func input(a *config.ADCInput) (adc.Input, *cell, error) {
	in := adc.Input{Name: a.Name, Mux: pins[a.Input], Attenuation: a.Attenuation, Reference: a.Reference, Channel: a.Channel}
	var lo, hi float64
	var seen *cell
	if a.Kind == config.KindTransformer {
		t := transformer(a.Transformer)
		in.Block = &adc.Block{Transformer: &t, Cycles: int(a.Transformer.Cycles), Pulsation: adc.NoChannel}
		lo, hi = t.InputV()
	} else {
		c, err := converter(a)
		if err != nil {
			return in, nil, err
		}
		seen = &cell{}
		in.Convert = tapped{c, seen}
		lo, hi = c.InputV()
	}
	if a.Pulsation < frame.NumChannels {
		in.Block = &adc.Block{Pulsation: a.Pulsation, Length: a.Block}
	}
	in.Rate = rate(a.Rate, in.Block != nil)
	in.Range = scale(a, lo, hi)
	return in, seen, nil
}

func rate(hz int64, block bool) adc.Rate {
	switch {
	case hz == 0 && block:
		return adc.SPS860
	case hz == 0:
		return adc.SPS128
	}
	i := slices.IndexFunc(rates, func(r adc.Rate) bool { return r.Hz() == float64(hz) })
	return rates[max(i, 0)]
}

// scale is the range that was asked for, else the narrowest that shows lo to
// hi V at the terminals.
func scale(a *config.ADCInput, lo, hi float64) adc.Range {
	div := max(a.Attenuation, 1)
	for _, r := range ranges {
		asked := a.RangeV != 0 && r.FullV() == a.RangeV
		fits := a.RangeV == 0 && hi/div <= r.FullV() && -lo/div <= r.FullV()
		if asked || fits {
			return r
		}
	}
	return adc.FS6V144
}

// converter makes the chain from a voltage to the value.
func converter(a *config.ADCInput) (convert.Converter, error) {
	span := convert.Span{Low: a.AtLow, High: a.AtHigh}
	r := &a.Resistive
	switch a.Kind {
	case config.KindRatiometric:
		return convert.Ratiometric{LowRatio: a.LowRatio, HighRatio: a.HighRatio, Span: span, MinSupplyV: a.SupplyMinV, MaxSupplyV: a.SupplyMaxV}, nil
	case config.KindLoop:
		return convert.Loop{ShuntOhm: a.ShuntOhm, Span: span}, nil
	case config.KindVoltage:
		return convert.Voltage{LowV: a.LowV, HighV: a.HighV, Span: span, OpenHigh: a.OpenHigh}, nil
	case config.KindSupply:
		s := convert.Supply{MinV: a.SupplyMinV, MaxV: a.SupplyMaxV}
		if s.MinV == 0 {
			s.MinV, s.MaxV = 4.5, 5.5 // what a ratiometric transducer takes when none is stated
		}
		return s, nil
	case config.KindNTC:
		law := convert.SteinhartHart{A: r.A, B: r.B, C: r.C}
		if r.BetaK != 0 {
			law = convert.Beta(r.R25Ohm, 298.15, r.BetaK)
		}
		return convert.NTC{Circuit: circuit(r), Law: law, MinK: r.MinK, MaxK: r.MaxK, ShortOhm: r.ShortOhm, OpenOhm: r.OpenOhm}, nil
	case config.KindPt100:
		return convert.RTD{Circuit: circuit(r), R0Ohm: 100, MinK: r.MinK, MaxK: r.MaxK}, nil
	case config.KindPt1000:
		return convert.RTD{Circuit: circuit(r), R0Ohm: 1000, MinK: r.MinK, MaxK: r.MaxK}, nil
	}
	return nil, fmt.Errorf("input %q: there is no kind %q", a.Name, a.Kind)
}

func circuit(r *config.Resistive) convert.Circuit {
	c := convert.Circuit{ReferenceOhm: r.FixedOhm, SupplyV: r.FeedV, CurrentA: r.FeedA, LeadOhm: r.LeadsOhm}
	switch r.Feed {
	case "pull_down":
		c.Feed = convert.PullDown
	case "current_source":
		c.Feed = convert.CurrentSource
	}
	return c
}

// peakByRMS is that of a sine.
const peakByRMS = 1.4142135623730951

func transformer(t config.Transformer) convert.Transformer {
	out := convert.Transformer{Ratio: t.Ratio, BurdenOhm: t.BurdenOhm, Turns: int(t.Turns), BiasV: t.BiasV, BiasTolV: t.BiasTolV, MaxPeakA: peakByRMS * t.MaxA}
	if t.APerV != 0 {
		out.Ratio, out.BurdenOhm = t.APerV, 1
	}
	return out
}
