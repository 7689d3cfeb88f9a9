package config

import (
	"strconv"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// channelDefault is what one channel gets where a file is silent.
type channelDefault struct {
	// notFitted on the default machine.
	notFitted bool
	// unit that the band is written in.
	unit string
	// smooth, stuck and stale as written; empty means 0 s, 0 s and 2 s.
	smooth, stuck, stale string
	// rate, minNoise and maxNoise as written, in the quantity's difference;
	// empty switches the check off.
	rate, minNoise, maxNoise string
	// why stands beside the section.
	why string
}

// onlyShown stands beside a channel that looks watched and isn't.
const onlyShown = "it is shown and recorded, and no rule judges it, but for departure where normal.channels names it"

// channelDefaults is the one place for a channel's defaults. A channel without
// an entry is not fitted, has the engine's band, no filter and no stuck check.
// Stuck checks are only for sensors whose last bits always move: a counter, a
// digital thermometer or a switch may rest on one value.
var channelDefaults = [frame.NumChannels]channelDefault{
	frame.InletPressure:  {unit: "kPa", smooth: "0.2 s", stuck: "30 s", maxNoise: "80 kPa", why: "a pump's pulse and a supply's hammer stay below max_noise, a loose plug doesn't; common practice, no source"},
	frame.WaterTemp:      {unit: "°C", stale: "10 s", rate: "20 K", why: "a digital thermometer takes up to a second a reading and rests on one step"},
	frame.Flow:           {unit: "L/min", smooth: "0.5 s", stale: "3 s", why: "pulses are counted: the same count twice is no fault"},
	frame.MotorCurrent:   {unit: "A", smooth: "0.3 s", stuck: "30 s"},
	frame.OutletPressure: {unit: "kPa", smooth: "0.2 s", stuck: "30 s"},
	frame.ShaftSpeed:     {unit: "rpm", smooth: "0.3 s", why: "pulses are timed: the same time twice is no fault"},
	frame.SupplyVoltage:  {unit: "V", smooth: "0.3 s", stuck: "60 s"},
	frame.Vibration:      {unit: "m/s2", smooth: "0.5 s", stuck: "30 s"},
	frame.Vibration2:     {notFitted: true, unit: "m/s2", smooth: "0.5 s", stuck: "30 s", why: onlyShown},
	frame.InletPulsation: {unit: "kPa", smooth: "0.5 s", stuck: "30 s"},
	frame.AmbientTemp:    {unit: "°C", stale: "10 s"},
	frame.TankLevel:      {notFitted: true, unit: "%", smooth: "2 s", stale: "5 s", why: "waves in a tank that is being drawn from"},
	frame.MotorTemp:      {notFitted: true, unit: "°C", stale: "10 s", why: onlyShown},
	frame.AirPressure:    {notFitted: true, unit: "kPa", stale: "60 s"},
	frame.Running:        {stale: "2 s"},
	frame.Trigger:        {stale: "2 s"},
	frame.PowerPresent:   {stale: "2 s"},
}

const channelGroup = `Channels: what is measured, one section each. Write only those that differ.
  fitted       the machine has this sensor. Without it nothing that needs it is watched, and the daemon says so.
  min, max     the band a working sensor can give; beyond it the reading is a fault and no value. It may only be narrowed.
  smooth       time constant of a first-order filter; a change is seen that much later. "0 s" for none.
  stuck_after  how long a reading may stay the same to the last bit while the pump turns. "0 s" switches the check off.
  max_rate     the most it can move in a second; a reading that jumps farther is suspect for up to 3 s. 0 switches the check off.
  min_noise    least RMS noise while the pump turns: below it for stuck_after, the reading is stuck. 0 switches the check off.
  max_noise    most RMS noise while the pump turns: above it, and falling and coming back more than once a second, the reading is suspect, as from a loose plug; readings a second apart can't show it. 0 switches the check off.
  stale_after  how old a reading may be.
Bands: absolute zero of gauge pressure; the rest common practice, no source.`

func channelSchema() []Section {
	out := make([]Section, 0, frame.NumChannels)
	for c := range frame.NumChannels {
		out = append(out, channelSection(c))
	}
	out[0].Group = channelGroup
	return out
}

func channelSection(ch frame.Channel) Section {
	d := channelDefaults[ch]
	doc := ch.Label() + ", " + ch.Place() + "."
	if d.why != "" {
		doc += " " + sentence(d.why)
	}
	keys := append([]Key{{Name: "fitted", Kind: Flag, Default: strconv.FormatBool(!d.notFitted && d != channelDefault{}), Bare: true,
		Doc: "The machine has this sensor.", field: func(c *Config, _ int) any { return &c.Engine.Signals[ch].Fitted }}},
		bandKeys(ch, d.unit)...)
	keys = append(keys, trustKeys(ch, d)...)
	return Section{Name: "channels." + ch.String(), Terse: true, Doc: doc, Keys: append(keys,
		Key{Name: "smooth", Kind: Measure, Quantity: units.Duration, Max: 60, Default: quoted(d.smooth, "0 s"),
			Doc: "Time constant of the filter.", field: func(c *Config, _ int) any { return &c.Engine.Signals[ch].SmoothS }},
		Key{Name: "stuck_after", Kind: Measure, Quantity: units.Duration, Max: 86400, Default: quoted(d.stuck, "0 s"),
			Doc: "How long a reading may stay the same while the pump turns.", field: func(c *Config, _ int) any { return &c.Engine.Signals[ch].StuckAfter }},
		Key{Name: "stale_after", Kind: Measure, Quantity: units.Duration, Min: 0.05, Max: 3600, Default: quoted(d.stale, "2 s"),
			Doc: "How old a reading may be.", field: func(c *Config, _ int) any { return &c.Stale[ch] }})}
}

// trustKeys are the checks on how a signal moves; a switch has none.
func trustKeys(ch frame.Channel, d channelDefault) []Key {
	if ch.Digital() {
		return nil
	}
	q := difference(ch.Quantity())
	key := func(name, text, doc string, field func(s *engine.Signal) *float64) Key {
		if text == "" {
			text = "0 " + units.Symbols(q)[0]
		}
		return Key{Name: name, Kind: Measure, Quantity: q, Max: 1e9, Default: strconv.Quote(text), Doc: doc,
			field: func(c *Config, _ int) any { return field(&c.Engine.Signals[ch]) }}
	}
	return []Key{
		key("max_rate", d.rate, "The most it can move in a second.", func(s *engine.Signal) *float64 { return &s.MaxRate }),
		key("min_noise", d.minNoise, "Least RMS noise while the pump turns.", func(s *engine.Signal) *float64 { return &s.MinNoise }),
		key("max_noise", d.maxNoise, "Most RMS noise while the pump turns.", func(s *engine.Signal) *float64 { return &s.MaxNoise }),
	}
}

// difference is the quantity of a difference of two values.
func difference(q units.Quantity) units.Quantity {
	if q == units.Temperature {
		return units.TemperatureDifference
	}
	return q
}

// bandKeys are the ends of the band of believable readings; a switch has none
// to choose.
func bandKeys(ch frame.Channel, unit string) []Key {
	if ch.Digital() {
		return nil
	}
	lo, hi := ch.Believable()
	q := ch.Quantity()
	return []Key{
		{Name: "min", Kind: Measure, Quantity: q, Min: lo, Max: hi, Default: inUnit(q, unit, lo),
			Doc: "Lowest reading a working sensor can give.", field: func(c *Config, _ int) any { return &c.Engine.Signals[ch].Min }},
		{Name: "max", Kind: Measure, Quantity: q, Min: lo, Max: hi, Default: inUnit(q, unit, hi),
			Doc: "Highest reading a working sensor can give.", field: func(c *Config, _ int) any { return &c.Engine.Signals[ch].Max }},
	}
}

func quoted(text, otherwise string) string {
	if text == "" {
		text = otherwise
	}
	return strconv.Quote(text)
}

// inUnit writes an SI value in a unit, as a file would; a channel without an
// entry above takes the quantity's first unit.
func inUnit(q units.Quantity, symbol string, si float64) string {
	u, ok := units.Lookup(q, symbol)
	if !ok {
		u = units.For(q, units.SI)
	}
	text := strconv.FormatFloat(u.FromSI(si), 'g', 7, 64)
	if u.Symbol == "" {
		return strconv.Quote(text)
	}
	return strconv.Quote(text + " " + u.Symbol)
}
