package advise

import (
	"flag"
	"fmt"
	"strings"

	"headroom/daemon/config"
	"headroom/rules/circuit/cord"
	"headroom/rules/units"
)

type cordFlags struct{ gauge, length, current, voltage, temp string }

func bindCord(fs *flag.FlagSet) answer {
	f := &cordFlags{}
	fs.StringVar(&f.gauge, "gauge", "", "conductor `size`, \"12 AWG\" or \"2.5 mm2\"")
	fs.StringVar(&f.length, "length", "", "the cord's `length`, one way")
	fs.StringVar(&f.current, "current", "", "the motor's `current`")
	fs.StringVar(&f.voltage, "voltage", "", "`voltage` at the outlet; without it the config's circuit")
	fs.StringVar(&f.temp, "temp", "", "`temperature` of the conductor; without it 75 °C, the cautious choice")
	return f.answer
}

// gauge reads a conductor size as people write it: "12 AWG", "12awg",
// "2.5 mm²".
func gauge(text string) (cord.Gauge, error) {
	t := strings.ToLower(strings.ReplaceAll(strings.TrimSpace(text), "²", "2"))
	for g := cord.AWG18; g <= cord.MM2x10; g++ {
		if strings.ReplaceAll(t, " ", "") == strings.ToLower(strings.ReplaceAll(g.String(), " ", "")) {
			return g, nil
		}
	}
	sizes := []string{}
	for g := cord.AWG18; g <= cord.MM2x10; g++ {
		sizes = append(sizes, g.String())
	}
	if t == "" {
		return cord.GaugeUnknown, fmt.Errorf("-gauge is missing; write for example -gauge %q", cord.AWG12)
	}
	return cord.GaugeUnknown, fmt.Errorf("-gauge: %q is no size of the tables; write one of %s", text, strings.Join(sizes, ", "))
}

// cordInput is what the answer is computed from.
type cordInput struct {
	gauge                           cord.Gauge
	lengthM, currentA, supplyV, tmp float64
}

func (f *cordFlags) input(c *config.Config) (in cordInput, err error) {
	if in.gauge, err = gauge(f.gauge); err != nil {
		return in, err
	}
	if in.lengthM, err = positive("length", units.Length, f.length, 0); err != nil {
		return in, err
	}
	if in.currentA, err = positive("current", units.Current, f.current, 0); err != nil {
		return in, err
	}
	if in.supplyV, err = positive("voltage", units.Voltage, f.voltage, c.Circuit.VoltageV); err != nil {
		return in, err
	}
	in.tmp, err = positive("temp", units.Temperature, f.temp, cord.WorkingTempK)
	return in, err
}

func (f *cordFlags) answer(c *config.Config, sys units.System) (Advice, error) {
	in, err := f.input(c)
	if err != nil {
		return Advice{}, err
	}
	loop, ok := cord.LoopOhm(in.gauge, in.lengthM, in.tmp)
	if !ok {
		return Advice{}, fmt.Errorf("-length, -temp: a cord is modelled up to %.0f m and from -40 to 105 °C", cord.MaxLengthM)
	}
	d := cord.DropAt(loop, in.supplyV, in.currentA)
	switch d.Status {
	case cord.StatusOK:
	case cord.StatusShort:
		return Advice{}, fmt.Errorf("-current: this cord would lose half of the voltage or more; current, length or gauge is not what it is said to be")
	default:
		return Advice{}, fmt.Errorf("-voltage, -current: %w", errInput)
	}
	a := Advice{Topic: "cord", sys: sys}
	a.cordText(c, in, d)
	return a, nil
}

func (a *Advice) cordText(c *config.Config, in cordInput, d cord.Drop) {
	amp, hasAmp := cord.AmpacityA(in.gauge, 2)
	switch {
	case hasAmp && in.currentA > amp:
		a.Verdict, a.Headline = "too_thin", "No: this cord is too thin for the current, whatever its length."
	case d.Share > cord.TotalShare:
		a.Verdict, a.Headline = "too_long", "No: this cord loses too much voltage."
	case d.Share > cord.BranchShare:
		a.Verdict, a.Headline = "long", "Marginal: this cord is long for the current."
	default:
		a.Verdict, a.Headline = "good", "Yes: this cord does."
	}
	a.put("length", units.Length, in.lengthM)
	a.say("A cord of %s, %s long, loses %s V at %s: %.1f %% of %s at the outlet. The motor sees %s V, and the cord turns %.0f W to heat.",
		in.gauge, a.show(units.Length, in.lengthM), a.volts("drop", d.DropV), a.put("current", units.Current, in.currentA),
		d.Share*100, a.put("supply_voltage", units.Voltage, in.supplyV), a.volts("motor_voltage", d.MotorV), d.HeatW)
	a.put("drop_share", units.Fraction, d.Share)
	a.put("cord_heat", units.Power, d.HeatW)
	a.longest(in)
	if hasAmp {
		a.say("The code's table lets a cord of %s with two conductors that carry current take %s.", in.gauge, a.put("ampacity", units.Current, amp))
	} else {
		a.note("The code's table of cord ampacity has no sizes in square millimetres; see the local code or the cord's own print.")
	}
	if v := c.Motor.VoltageV; v > 0 && d.MotorV < 0.9*v {
		a.note("The motor sees less than 90 %% of its rated %s; motors are made for 10 %% either way (NEMA MG 1, from memory). It draws more and heats.", a.show(units.Voltage, v))
	}
	a.note("3 %% on the branch and 5 %% in all are recommended by NFPA 70 210.19(A), informational note, read from a secondary page; they are advice and no rule, and the building's own wires lose some besides.")
	a.note("Computed for a conductor of %s and a power factor of 1, so that the loss is told on the high side. At the start the motor draws several times the current.", a.show(units.Temperature, in.tmp))
	a.note("The outlet should be grounded, with a GFCI tested before use. A cord that is warm at its plug is bad whatever is computed; unroll the reel.")
}

// volts prints a voltage with one decimal, since a cord is about few volts.
func (a *Advice) volts(name string, v float64) string {
	a.put(name, units.Voltage, v)
	return fmt.Sprintf("%.1f", v)
}

// longest tells how long the cord may be for the two recommended shares.
func (a *Advice) longest(in cordInput) {
	m3, ok3 := cord.LongestM(in.gauge, in.tmp, in.supplyV, in.currentA, cord.BranchShare)
	m5, ok5 := cord.LongestM(in.gauge, in.tmp, in.supplyV, in.currentA, cord.TotalShare)
	if ok3 && ok5 {
		a.say("At this current it may be %s long for 3 %% and %s for 5 %%.",
			a.put("longest_3_percent", units.Length, m3), a.put("longest_5_percent", units.Length, m5))
	}
}
