package config

import (
	"regexp"
	"strconv"
	"strings"

	"headroom/rules/frame"
	"headroom/rules/units"
)

// deriveSensors completes the sensors, lets what they feed count as fitted, and
// finds what is wrong with them.
func (d *decoder) deriveSensors(whole bool) {
	s := &d.cfg.Sensors
	fed := map[frame.Channel]string{}
	for i := range s.ADC {
		d.deriveADC(element("sensors.adc", i+1), &s.ADC[i], fed)
	}
	for i := range s.Thermometers {
		t, path := &s.Thermometers[i], element("sensors.thermometer", i+1)
		t.Channel = d.feed(path, "channel", t.channel, fed)
		d.checkSerial(path, t.Serial)
	}
	for i := range s.Pulses {
		d.derivePulse(element("sensors.pulse", i+1), &s.Pulses[i], fed)
	}
	for i := range s.Modbus {
		d.deriveModbus(element("sensors.modbus", i+1), &s.Modbus[i], fed)
	}
	for i := range s.Switches {
		path := element("sensors.switch", i+1)
		s.Switches[i].Channel = d.feed(path, "channel", s.Switches[i].channel, fed)
		d.checkLine(path, &s.Switches[i].GPIO)
	}
	if !s.Any() {
		return
	}
	d.checkADCNames()
	d.checkConverters()
	d.checkModbusLines()
	d.checkSerials()
	d.fitFed(fed)
	if whole && d.cfg.Simulator.On {
		d.report(d.where("simulator.on", d.firstSensor()), "simulator.on", "is true, so the sensors would never be read", "write on = false under [simulator], or leave the sensors out")
	}
}

func (d *decoder) firstSensor() string {
	for _, name := range []string{"sensors.adc", "sensors.thermometer", "sensors.pulse", "sensors.modbus", "sensors.switch"} {
		if d.elements[name] > 0 {
			return element(name, 1) + ".channel"
		}
	}
	return ""
}

// feed notes that a key names a channel, which can be fed once. An empty or
// unknown name was told of already, and gives NumChannels.
func (d *decoder) feed(path, key, name string, fed map[frame.Channel]string) frame.Channel {
	ch, ok := frame.ByName(name)
	if !ok {
		return frame.NumChannels
	}
	if first, twice := fed[ch]; twice {
		d.report(d.where(path+"."+key), path+"."+key, name+" is fed by "+first+" already", "keep one")
		return ch
	}
	fed[ch] = path
	return ch
}

// fitFed lets a channel that a sensor feeds count as fitted, and no other,
// unless the file says so: the default's fitted channels are those of the
// invented machine.
func (d *decoder) fitFed(fed map[frame.Channel]string) {
	for ch := range frame.NumChannels {
		fitted, path := &d.cfg.Engine.Signals[ch].Fitted, "channels."+ch.String()+".fitted"
		by, isFed := fed[ch]
		switch {
		case !d.wrote(path):
			*fitted = isFed
		case *fitted && !isFed:
			d.note(d.where(path), path, "is true, but no sensor feeds it, so it will read as missing", "add its sensor, or leave fitted out")
		case !*fitted && isFed:
			d.report(d.where(path), path, "is false, so what "+by+" reads would be lost", "leave fitted out, or take the sensor away")
		}
	}
}

var serialForm = regexp.MustCompile(`^(28|22|42)-[0-9a-f]{12}$`)

func (d *decoder) checkSerial(path, serial string) {
	if d.set[path+".serial"] && !serialForm.MatchString(serial) {
		d.report(d.where(path+".serial"), path+".serial", shortQuote(serial)+" is no serial number of a 1-wire thermometer", `write it as "headroom scan" lists it, for example "28-000000123456"; families 22, 28 and 42 can be read`)
	}
}

func (d *decoder) checkSerials() {
	seen := map[string]string{}
	for i, t := range d.cfg.Sensors.Thermometers {
		path := element("sensors.thermometer", i+1)
		if first, twice := seen[t.Serial]; twice && t.Serial != "" {
			d.report(d.where(path+".serial"), path+".serial", "is the serial of "+first+" already", "warm one in the hand to tell which is which")
		}
		seen[t.Serial] = path
	}
}

// measured reads a text with a unit whose quantity another key decides.
func (d *decoder) measured(path, text string, q units.Quantity, to *float64) {
	if !d.set[path] {
		return
	}
	k := Key{Kind: Measure, Quantity: q, Min: -1e9, Max: 1e9}
	r, t := convertMeasure(&k, value{shape: aText, text: text})
	if q == units.Fraction {
		if v, err := strconv.ParseFloat(text, 64); err == nil {
			r, t = reading{number: v}, nil
		}
	}
	if t != nil {
		d.report(d.where(path), path, t.message, t.mend)
		d.bad[path] = true
		return
	}
	*to = r.number
}

func (d *decoder) derivePulse(path string, p *PulseInput, fed map[frame.Channel]string) {
	p.Channel = d.feed(path, "channel", p.channel, fed)
	d.checkLine(path, &p.GPIO)
	k, rev := path+".k_factor", path+".pulses_per_rev"
	switch p.Channel {
	case frame.Flow:
		if d.set[rev] {
			d.report(d.where(rev), rev, "has no use with channel flow", "leave it out, or write channel = \"shaft_speed\"")
		}
		if !d.wrote(k) {
			d.report(d.where(path+".channel"), path, "has no k_factor, so pulses would mean no flow", `write k_factor = "450/L", from the meter's own sheet`)
		}
	case frame.ShaftSpeed:
		if d.set[k] {
			d.report(d.where(k), k, "has no use with channel shaft_speed", "leave it out, or write channel = \"flow\"")
		}
		if !d.wrote(rev) {
			d.report(d.where(path+".channel"), path, "has no pulses_per_rev", "write pulses_per_rev = 1")
		}
	}
	d.deriveK(k, p)
	if limit := 1 / (3 * p.MaxHz); p.MaxHz > 0 && p.Debounce.Seconds() > limit {
		d.report(d.where(path+".debounce"), path+".debounce", d.written(path+".debounce")+" is out of range", "allowed: up to a third of the shortest period, "+strconv.FormatFloat(limit*1e3, 'g', 3, 64)+" ms")
	}
}

// kForm is for example "450/L at 60 Hz".
var kForm = regexp.MustCompile(`^([0-9.eE+]+) ?/ ?(L|gal|m3)(?: at ([0-9.eE+]+) Hz)?$`)

// perM3 is how many of the volumes that a K-factor may be written for make a
// cubic metre.
func perM3(volume string) float64 {
	switch volume {
	case "L":
		return 1e3
	case "gal":
		return 1 / units.M3PerGallon
	}
	return 1
}

func (d *decoder) deriveK(path string, p *PulseInput) {
	for _, text := range p.k {
		m := kForm.FindStringSubmatch(strings.TrimSpace(text))
		if m == nil {
			d.report(d.where(path), path, shortQuote(text)+" is no K-factor", `write for example "450/L", or with its pulse rate "450/L at 60 Hz"; per L, gal or m3`)
			return
		}
		factor, err := strconv.ParseFloat(m[1], 64)
		hz, herr := strconv.ParseFloat("0"+m[3], 64)
		factor *= perM3(m[2])
		if err != nil || herr != nil || !(factor > 0 && factor <= 1e12) || !(hz <= 1e6) {
			d.report(d.where(path), path, shortQuote(text)+" is out of range", "allowed: a K-factor above 0 at 0 to 1000000 Hz")
			return
		}
		if m[3] == "" && len(p.k) > 1 {
			d.report(d.where(path), path, shortQuote(text)+" has no pulse rate, which a list needs", `write for example "450/L at 60 Hz"`)
			return
		}
		if n := len(p.K); n > 0 && hz <= p.K[n-1].Hz {
			d.report(d.where(path), path, shortQuote(text)+" does not follow the point before", "order the points by rising pulse rate, each once")
			return
		}
		p.K = append(p.K, KPoint{hz, factor})
	}
	if d.wrote(path) && len(p.k) == 0 && !d.bad[path] {
		d.report(d.where(path), path, "is empty", `write for example "450/L"`)
	}
}

func (d *decoder) deriveModbus(path string, m *ModbusPoint, fed map[frame.Channel]string) {
	m.Channel = d.feed(path, "channel", m.channel, fed)
	if m.Channel < frame.NumChannels && d.set[path+".unit"] {
		if _, ok := units.Lookup(m.Channel.Quantity(), m.Unit); !ok {
			d.report(d.where(path+".unit"), path+".unit", shortQuote(m.Unit)+" is no unit of "+m.channel, "allowed: "+strings.Join(units.Symbols(m.Channel.Quantity()), ", "))
		}
	}
	if d.set[path+".scale"] && m.Scale == 0 {
		d.report(d.where(path+".scale"), path+".scale", "is 0, so every value would be the same", "leave it out for 1")
	}
	for _, text := range m.notAvailable {
		bits, err := strconv.ParseUint(text, 0, 32)
		if err != nil {
			d.report(d.where(path+".not_available"), path+".not_available", shortQuote(text)+" is no pattern of up to 32 bits", `write for example "0x8000" or "0x7fffffff"`)
			return
		}
		m.NotAvailable = append(m.NotAvailable, uint32(bits))
	}
}

// checkModbusLines wants one rate and one framing for all points of a line.
func (d *decoder) checkModbusLines() {
	first := map[string]int{}
	for i, m := range d.cfg.Sensors.Modbus {
		path := element("sensors.modbus", i+1)
		k, seen := first[m.Port]
		if !seen {
			first[m.Port] = i
			continue
		}
		before, by := d.cfg.Sensors.Modbus[k], element("sensors.modbus", k+1)
		if m.Baud != before.Baud {
			d.report(d.where(path+".baud", path+".port"), path+".baud", strconv.FormatInt(m.Baud, 10)+" is not that of "+by+" on the same line, "+strconv.FormatInt(before.Baud, 10), "write one rate for all points of a line")
		}
		if m.Framing != before.Framing {
			d.report(d.where(path+".framing", path+".port"), path+".framing", shortQuote(m.Framing)+" is not that of "+by+" on the same line, "+shortQuote(before.Framing), "write one framing for all points of a line")
		}
	}
}
