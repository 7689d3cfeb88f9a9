package config

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"headroom/rules/frame"
	"headroom/rules/units"
)

// adcKind says what a kind of input takes and gives.
type adcKind struct {
	// quantity that its channel must have; units.None for any.
	quantity units.Quantity
	// needs and takes are its own keys, beside those that say where it is.
	needs, takes []string
}

var (
	circuitTakes = []string{"fixed", "feed_voltage", "feed_current", "leads", "reference", "min_temp", "max_temp"}

	kindTable = map[string]adcKind{
		KindRatiometric: {needs: []string{"at_low", "at_high", "reference"}, takes: []string{"low_ratio", "high_ratio", "supply_min", "supply_max", "pulsation", "block"}},
		KindLoop:        {needs: []string{"at_low", "at_high", "shunt"}, takes: []string{"pulsation", "block"}},
		KindVoltage:     {needs: []string{"at_low", "at_high", "high"}, takes: []string{"low", "open_high", "pulsation", "block"}},
		KindNTC:         {units.Temperature, []string{"feed"}, append([]string{"r25", "beta", "coefficient_a", "coefficient_b", "coefficient_c", "short_below", "open_above"}, circuitTakes...)},
		KindPt100:       {units.Temperature, []string{"feed"}, circuitTakes},
		KindPt1000:      {units.Temperature, []string{"feed"}, circuitTakes},
		KindTransformer: {units.Current, []string{"max_current"}, []string{"ratio", "burden", "amps_per_volt", "turns", "bias", "bias_tolerance", "cycles"}},
		KindSupply:      {units.Voltage, nil, []string{"supply_min", "supply_max"}},
	}

	// placeKeys say where an input is and are taken by every kind.
	placeKeys = []string{"name", "bus", "address", "input", "kind", "channel", "range", "rate", "mode", "attenuation", "converter_supply"}
)

var busForm = regexp.MustCompile(`^(?:/dev/)?i2c-([0-9]{1,3})$`)

func (d *decoder) deriveADC(path string, a *ADCInput, fed map[frame.Channel]string) {
	a.Channel = d.feed(path, "channel", a.channel, fed)
	a.Pulsation = d.feed(path, "pulsation", a.pulsation, fed)
	if a.Name == "" {
		a.Name = a.channel
	}
	if n, err := strconv.ParseUint(a.address, 0, 16); err == nil {
		a.Address = uint16(n)
	}
	if m := busForm.FindStringSubmatch(a.bus); m != nil {
		a.Bus, _ = strconv.Atoi(m[1])
	} else if d.set[path+".bus"] {
		d.report(d.where(path+".bus"), path+".bus", shortQuote(a.bus)+" is no I2C bus", `write it as "headroom scan" lists it, for example "i2c-1"`)
	}
	kind, known := kindTable[a.Kind]
	if !known {
		return // told already, as missing or as not allowed
	}
	d.checkKindKeys(path, a.Kind, kind)
	d.checkKindChannel(path, a, kind)
	if a.Channel < frame.NumChannels {
		q := a.Channel.Quantity()
		d.measured(path+".at_low", a.atLow, q, &a.AtLow)
		d.measured(path+".at_high", a.atHigh, q, &a.AtHigh)
	}
	d.checkKind(path, a)
}

// checkKindKeys finds keys that the kind has no use for, and lacks.
func (d *decoder) checkKindKeys(path, name string, kind adcKind) {
	for _, k := range adcKeys() {
		own := slices.Contains(kind.needs, k.Name) || slices.Contains(kind.takes, k.Name) || slices.Contains(placeKeys, k.Name)
		if d.wrote(path+"."+k.Name) && !own {
			takes := slices.Concat(kind.needs, kind.takes)
			d.report(d.where(path+"."+k.Name), path+"."+k.Name, "has no use with kind = "+strconv.Quote(name), "leave it out; this kind takes "+strings.Join(takes, ", "))
		}
		if slices.Contains(kind.needs, k.Name) && !d.wrote(path+"."+k.Name) {
			d.report(d.where(path+".kind"), path, "has no "+k.Name+", which kind = "+strconv.Quote(name)+" needs", "write "+k.Name+" = "+k.sample())
		}
	}
}

func (d *decoder) checkKindChannel(path string, a *ADCInput, kind adcKind) {
	switch {
	case a.Kind == KindSupply && a.Name == "":
		d.report(d.where(path+".kind"), path, "has no name, so nothing can refer to it", `write name = "5 V supply"`)
	case a.channel == "" && a.Kind != KindSupply && !d.wrote(path+".channel"):
		d.report(d.where(path+".kind"), path, "has no channel, so its reading would be lost", `write channel = "`+firstChannel(kind.quantity)+`"`)
	case a.Channel < frame.NumChannels && kind.quantity != units.None && a.Channel.Quantity() != kind.quantity:
		d.report(d.where(path+".channel"), path+".channel", a.channel+" is no "+quantityNames[kind.quantity]+", which kind = "+strconv.Quote(a.Kind)+" measures",
			`allowed: "`+strings.Join(channelsOf(kind.quantity), `", "`)+`"`)
	case d.set[path+".pulsation"] && a.Channel < frame.NumChannels && a.Channel.Quantity() != units.Pressure:
		d.report(d.where(path+".pulsation"), path+".pulsation", a.channel+" is no pressure, so it has no pulsation", "leave it out")
	}
}

func firstChannel(q units.Quantity) string { return channelsOf(q)[0] }

// checkKind holds a kind's own figures against each other.
func (d *decoder) checkKind(path string, a *ADCInput) {
	has := func(key string) bool { return d.wrote(path + "." + key) }
	at := func(key string) position { return d.where(path+"."+key, path+".kind") }
	say := func(key, message, mend string) { d.report(at(key), path+"."+key, message, mend) }
	if has("at_low") && has("at_high") && a.AtLow == a.AtHigh && d.sound(path+".at_low", path+".at_high") && a.Channel < frame.NumChannels {
		say("at_high", "is the same as at_low, so every signal would mean one value", "copy both from the transducer's sheet")
	}
	if has("low_ratio") != has("high_ratio") {
		say("low_ratio", "low_ratio and high_ratio go together", "write both, or leave both out for 10 % and 90 %")
	} else if has("low_ratio") && a.LowRatio >= a.HighRatio && d.sound(path+".low_ratio", path+".high_ratio") {
		say("low_ratio", d.written(path+".low_ratio")+" is not below high_ratio, "+d.written(path+".high_ratio"), "swap the two")
	}
	if has("supply_min") != has("supply_max") {
		say("supply_min", "supply_min and supply_max go together", "write both, or leave both out for 4.5 and 5.5 V")
	} else if has("supply_min") && a.SupplyMinV >= a.SupplyMaxV && d.sound(path+".supply_min", path+".supply_max") {
		say("supply_min", d.written(path+".supply_min")+" is not below supply_max, "+d.written(path+".supply_max"), "swap the two")
	}
	if has("high") && a.LowV >= a.HighV && d.sound(path+".low", path+".high") {
		say("low", d.written(path+".low")+" is not below high, "+d.written(path+".high"), "swap the two")
	}
	if has("block") && !has("pulsation") {
		say("block", "has no use without pulsation", "leave it out")
	}
	if a.Kind == KindTransformer {
		d.checkTransformer(path, a, has, say)
	}
	if slices.Contains([]string{KindNTC, KindPt100, KindPt1000}, a.Kind) {
		d.checkResistive(path, a, has, say)
	}
}

func (d *decoder) checkTransformer(path string, a *ADCInput, has func(string) bool, say func(key, message, mend string)) {
	whole := has("ratio") && has("burden")
	switch {
	case has("amps_per_volt") && (has("ratio") || has("burden")):
		say("amps_per_volt", "stands beside ratio or burden, and one of them must be wrong", "amps_per_volt is for a transformer with its burden inside; keep one")
	case !has("amps_per_volt") && !whole:
		say("ratio", "ratio and burden, or amps_per_volt, are missing", `write ratio = 2000 and burden = "22 ohm"`)
	}
	if pair := strings.Contains(a.Input, "-"); pair && a.Transformer.BiasV != 0 {
		say("bias", "has no use with a pair of pins: the difference has no mid-point", "leave it out")
	} else if !pair && a.Input != "" && !has("bias") {
		say("bias", "is missing: a single pin can't go below 0, so the secondary must be lifted", `write bias = "1.65 V", half of the supply, or use a pair such as "AIN0-AIN1"`)
	}
	if a.Rate != 0 && a.Rate != 860 {
		say("rate", strconv.FormatInt(a.Rate, 10)+" is too slow for a current's true RMS", "leave it out for 860")
	}
}

func (d *decoder) checkResistive(path string, a *ADCInput, has func(string) bool, say func(key, message, mend string)) {
	r := &a.Resistive
	source := r.Feed == "current_source"
	switch {
	case source && !has("feed_current"):
		say("feed_current", "is missing: a current_source needs it", `write feed_current = "0.5 mA"`)
	case source && (has("fixed") || has("feed_voltage") || has("reference")):
		say("feed", "a current_source has no divider", "leave fixed, feed_voltage and reference out")
	case r.Feed != "" && !source && has("feed_current"):
		say("feed_current", "has no use in a divider", `leave it out, or write feed = "current_source"`)
	case r.Feed != "" && !source && !has("fixed"):
		say("fixed", "is missing: a divider has a fixed resistor", `write fixed = "10 kohm"`)
	case r.Feed != "" && !source && has("feed_voltage") == has("reference"):
		say("feed_voltage", "a divider has either a feed_voltage or a reference that measures it", "write one of them")
	}
	if has("min_temp") != has("max_temp") {
		say("min_temp", "min_temp and max_temp go together", "write both, or neither")
	} else if has("min_temp") && r.MinK >= r.MaxK && d.sound(path+".min_temp", path+".max_temp") {
		say("min_temp", d.written(path+".min_temp")+" is not below max_temp, "+d.written(path+".max_temp"), "swap the two")
	}
	if has("short_below") != has("open_above") {
		say("short_below", "short_below and open_above go together", "write both, or neither")
	}
	if a.Kind != KindNTC {
		return
	}
	beta := has("r25") && has("beta")
	three := has("coefficient_a") && has("coefficient_b") && has("coefficient_c")
	if beta == three {
		say("beta", "a thermistor takes either r25 and beta or the three coefficients", `write r25 = "10 kohm" and beta = 3435, from its sheet`)
	}
}

// checkADCNames wants every name once, and every reference to be a supply on
// the same bus.
func (d *decoder) checkADCNames() {
	all := d.cfg.Sensors.ADC
	for i := range all {
		path := element("sensors.adc", i+1)
		for k := range all[:i] {
			if all[i].Name != "" && all[i].Name == all[k].Name && d.set[path+".name"] {
				d.report(d.where(path+".name"), path+".name", shortQuote(all[i].Name)+" is the name of "+element("sensors.adc", k+1)+" already", "give each input its own")
			}
		}
		if all[i].Reference == "" {
			continue
		}
		at := slices.IndexFunc(all, func(o ADCInput) bool { return o.Name == all[i].Reference })
		if at >= 0 && all[at].Kind == KindSupply && all[at].Bus == all[i].Bus {
			continue
		}
		d.report(d.where(path+".reference"), path+".reference", shortQuote(all[i].Reference)+" is no input of kind supply on the same bus", d.supplies(all[i]))
	}
}

// supplies are the references that an input could have.
func (d *decoder) supplies(a ADCInput) string {
	var names []string
	for _, o := range d.cfg.Sensors.ADC {
		if o.Kind == KindSupply && o.Bus == a.Bus && o.Name != "" {
			names = append(names, o.Name)
		}
	}
	if len(names) == 0 {
		return `there is none: add a [[sensors.adc]] with kind = "supply" and a name`
	}
	mend := ""
	if best, ok := nearest(a.Reference, names); ok {
		mend = "did you mean " + strconv.Quote(best) + "? "
	}
	return mend + `allowed: "` + strings.Join(names, `", "`) + `"`
}

// checkConverters wants each pin once, and one supply for all inputs of a
// converter.
func (d *decoder) checkConverters() {
	type pin struct {
		bus  int
		addr uint16
		name string
	}
	type chip struct {
		bus  int
		addr uint16
	}
	pins, first := map[pin]string{}, map[chip]int{}
	for i := range d.cfg.Sensors.ADC {
		a, path := &d.cfg.Sensors.ADC[i], element("sensors.adc", i+1)
		if a.Address == 0 {
			continue
		}
		for _, name := range strings.Split(a.Input, "-") {
			p := pin{a.Bus, a.Address, name}
			if by, twice := pins[p]; twice && name != "" {
				d.report(d.where(path+".input"), path+".input", name+" of the converter at "+a.address+" is used by "+by+" already", "give each input pins of its own")
			}
			pins[p] = path
		}
		c := chip{a.Bus, a.Address}
		k, seen := first[c]
		if !seen && a.ConverterSupplyV != 0 {
			first[c] = i
		} else if seen && a.ConverterSupplyV != 0 && a.ConverterSupplyV != d.cfg.Sensors.ADC[k].ConverterSupplyV {
			d.report(d.where(path+".converter_supply"), path+".converter_supply", d.written(path+".converter_supply")+" is not what "+element("sensors.adc", k+1)+" says of the same converter, "+d.written(element("sensors.adc", k+1)+".converter_supply"), "write it once")
		}
	}
}
