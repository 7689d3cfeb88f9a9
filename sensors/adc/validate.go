package adc

import (
	"fmt"
	"time"

	"headroom/rules/circuit"
	"headroom/rules/frame"
)

// validate checks everything but the times; defaults are in place.
func (o Options) validate() error {
	switch {
	case o.Bus == nil:
		return fmt.Errorf("no bus: open the I2C bus first")
	case len(o.Chips) == 0 || len(o.Chips) > lastAddr-firstAddr+1:
		return fmt.Errorf("%d converters on one bus can't be: give 1 to 4", len(o.Chips))
	case !within(o.Period, 10*time.Millisecond, 10*time.Second):
		return fmt.Errorf("a scan period of %v can't be: give 10 ms to 10 s", o.Period)
	case !(o.BusHz >= 10e3 && o.BusHz <= 1e6):
		return fmt.Errorf("a bus clock of %v Hz can't be: give 10000 to 1000000", o.BusHz)
	case !within(o.Overhead, 0, 5*time.Millisecond), !within(o.Margin, 0, 10*time.Millisecond):
		return fmt.Errorf("an overhead of %v or a margin of %v can't be: give up to 5 and 10 ms", o.Overhead, o.Margin)
	case !within(o.Timeout, 10*time.Millisecond, 5*time.Second):
		return fmt.Errorf("a time limit of %v can't be: give 10 ms to 5 s", o.Timeout)
	}
	seen := names{addrs: map[uint16]bool{}, inputs: map[string]bool{}, channels: map[frame.Channel]string{}}
	for _, c := range o.Chips {
		for _, in := range c.Inputs {
			seen.inputs[in.Name] = true
		}
	}
	seen.known = seen.inputs
	seen.inputs = map[string]bool{}
	for _, c := range o.Chips {
		if err := o.validateChip(c, seen); err != nil {
			return fmt.Errorf("%s: %w", addrWords(c.Addr), err)
		}
	}
	return nil
}

func within(d, lo, hi time.Duration) bool { return d >= lo && d <= hi }

// names is what must be unique, and what can be referred to.
type names struct {
	addrs         map[uint16]bool
	inputs, known map[string]bool
	channels      map[frame.Channel]string
}

func (o Options) validateChip(c Chip, seen names) error {
	blocks := 0
	switch {
	case c.Addr < firstAddr || c.Addr > lastAddr:
		return fmt.Errorf("no such address: a converter of this kind has 0x48 to 0x4b, by its pin ADDR")
	case seen.addrs[c.Addr]:
		return fmt.Errorf("the address is used twice: wire the pin ADDR of one differently")
	case !(c.SupplyV >= 2.0 && c.SupplyV <= 5.5):
		return fmt.Errorf("a supply of %v V can't be: give 2.0 to 5.5", c.SupplyV)
	case len(c.Inputs) == 0:
		return fmt.Errorf("no inputs: give 1 to 4, or leave the converter out")
	case c.Continuous && len(c.Inputs) > 1:
		return fmt.Errorf("continuous mode with %d inputs would mix them up: give it one, or leave continuous out", len(c.Inputs))
	}
	seen.addrs[c.Addr] = true
	var pins uint8
	for _, in := range c.Inputs {
		if err := o.validateInput(c, in, seen); err != nil {
			return fmt.Errorf("input %q: %w", in.Name, err)
		}
		if pins&muxInfo[in.Mux].pins != 0 {
			return fmt.Errorf("input %q: a pin of %s is already in use: give every input pins of its own", in.Name, in.Mux)
		}
		pins |= muxInfo[in.Mux].pins
		if in.Block != nil {
			blocks++
		}
	}
	if blocks > 1 {
		return fmt.Errorf("%d inputs sampled in blocks: give each a converter of its own", blocks)
	}
	return nil
}

func (o Options) validateInput(c Chip, in Input, seen names) error {
	switch {
	case in.Name == "" || seen.inputs[in.Name]:
		return fmt.Errorf("the name is empty or used twice: give every input on the bus its own")
	case in.Mux >= numMux || in.Range >= numRanges || in.Rate >= numRates:
		return fmt.Errorf("no such input, range or rate (%d, %d, %d): use the package's constants", in.Mux, in.Range, in.Rate)
	case !(in.Attenuation >= 1 && in.Attenuation <= 100):
		return fmt.Errorf("an attenuation of %v can't be: give the voltage at the terminals by that at the pin, 1 to 100", in.Attenuation)
	case in.Channel > NoChannel:
		return fmt.Errorf("no such channel (%d)", in.Channel)
	case in.Convert == nil && !in.current():
		return fmt.Errorf("no conversion: say what is wired to it")
	case in.Convert != nil && in.current():
		return fmt.Errorf("a transformer and another conversion: give one of them")
	}
	seen.inputs[in.Name] = true
	for _, ch := range in.posts() {
		if by, twice := seen.channels[ch]; twice {
			return fmt.Errorf("feeds %s, which input %q feeds already: give each channel one input", ch, by)
		}
		seen.channels[ch] = in.Name
	}
	if err := o.validateKind(in, seen); err != nil {
		return err
	}
	return validateVolts(c, in)
}

func (o Options) validateKind(in Input, seen names) error {
	if in.Block != nil {
		if err := o.validateBlock(in); err != nil {
			return err
		}
	}
	if in.Convert == nil {
		return nil
	}
	if err := in.Convert.Validate(); err != nil {
		return err
	}
	switch need := in.Convert.NeedsReference(); {
	case need && in.Reference == "":
		return fmt.Errorf("its supply must be measured: name the input that does as its reference")
	case !need && in.Reference != "":
		return fmt.Errorf("reference %q has no use here: leave it out", in.Reference)
	case need && (!seen.known[in.Reference] || in.Reference == in.Name):
		return fmt.Errorf("its reference %q is no other input on this bus: check the name", in.Reference)
	}
	return nil
}

func (o Options) validateBlock(in Input) error {
	b := in.Block
	if !in.current() {
		if !within(b.Length, 50*time.Millisecond, 10*time.Second) || b.Pulsation >= NoChannel {
			return fmt.Errorf("a block of %v into channel %d can't be: give 50 ms to 10 s and the channel of the pulsation", b.Length, b.Pulsation)
		}
		return nil
	}
	if err := b.Transformer.Validate(); err != nil {
		return err
	}
	switch perCycle := in.Rate.Hz() / o.MainsHz; {
	case !(o.MainsHz >= circuit.MinMainsHz && o.MainsHz <= circuit.MaxMainsHz):
		return fmt.Errorf("a mains frequency of %v Hz can't be: give 50 or 60", o.MainsHz)
	case perCycle < circuit.MinPerCycle:
		return fmt.Errorf("%v samples a second are %.1f per mains cycle and %v are needed: set the rate to 860", in.Rate.Hz(), perCycle, circuit.MinPerCycle)
	case b.Cycles < 1 || b.Cycles > 60:
		return fmt.Errorf("a block of %d mains cycles can't be: give 1 to 60", b.Cycles)
	}
	return nil
}

// validateVolts checks that the pin survives what the input can bring, and
// that the range shows it.
func validateVolts(c Chip, in Input) error {
	lo, hi := in.inputV()
	lo, hi = lo/in.Attenuation, hi/in.Attenuation
	single := in.Mux <= AIN3
	if hi > in.Range.FullV() || -lo > in.Range.FullV() {
		return fmt.Errorf("needs %.3g to %.3g V at the pin to tell its faults and the range ends at %v V: take a wider range or more attenuation", lo, hi, in.Range.FullV())
	}
	if single && (hi > c.SupplyV+0.05 || lo < -0.3) {
		return fmt.Errorf("can bring %.3g to %.3g V to the pin, which must stay between 0 and the converter's supply of %v V: fit a divider (attenuation) or feed the converter with 5 V", lo, hi, c.SupplyV)
	}
	return nil
}
