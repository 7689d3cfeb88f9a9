package config

import (
	"headroom/rules/engine"
	"headroom/rules/units"
)

const outputsDoc = `What the daemon switches: a beacon, a horn, a stop relay. All are off until they are switched on here. When the daemon hangs they drop to their safe state. This is an aid and no safety function: an emergency stop is wired in hardware, around all of this.`

const stopDoc = `The stop relay. A false stop costs a job and a missed one a pump, and a relay that is wired wrongly can do harm, so it takes two settings that agree: on = true, and confirm = "may stop the machine". After a stop only a person's reset lets the machine run again.`

func outputSchema() []Section {
	return []Section{
		{Name: "outputs", Doc: outputsDoc, Keys: []Key{
			{Name: "keep_alive", Kind: Measure, Quantity: units.Duration, Min: 0.2, Max: 10, Default: `"1 s"`, Why: "ten frames",
				Doc: "Silence of the daemon after which all outputs drop.", field: func(c *Config, _ int) any { return &c.Outputs.KeepAlive }},
		}},
		{Name: "outputs.beacon", Doc: "A lamp, and what each severity lights while the pump turns and while it stands.", Keys: annunciatorKeys("a beacon", beaconTable, beacon)},
		{Name: "outputs.horn", Doc: "A horn: for what can't wait, and only where somebody can act on a turning pump.", Keys: annunciatorKeys("a horn", hornTable, horn)},
		{Name: "outputs.stop", Doc: stopDoc, Keys: stopKeys()},
		{Name: "outputs.reset", Doc: "The button that lets the machine run again after a stop. One that hangs resets nothing.", Keys: buttonKeys(func(c *Config) *Button { return &c.Outputs.Reset })},
		{Name: "outputs.hold", Doc: "The button that, while it is held, keeps the machine running against a stop for as long as outputs.stop.override says: to close a gun and let the pressure down.", Keys: buttonKeys(func(c *Config) *Button { return &c.Outputs.Hold })},
	}
}

func beacon(c *Config) *Annunciator { return &c.Outputs.Beacon }
func horn(c *Config) *Annunciator   { return &c.Outputs.Horn }

var patternNames = []string{"off", "steady", "slow", "quick"}

// table is the default of an annunciator: advice, warning and act while the
// pump turns and while it stands, and a stop that waits for its reset.
type table struct {
	turning, standing [3]string
	stopped           string
}

// The defaults are those of the package that drives the lines; a test there
// holds them together. Slow is 0.5 Hz and quick 2 Hz.
var (
	beaconTable = table{[3]string{"off", "slow", "quick"}, [3]string{"off", "slow", "quick"}, "steady"}
	hornTable   = table{[3]string{"off", "off", "quick"}, [3]string{"off", "off", "off"}, "off"}
)

func annunciatorKeys(what string, t table, a func(c *Config) *Annunciator) []Key {
	keys := outputKeys("There is "+what+".", func(c *Config) *bool { return &a(c).On }, func(c *Config) *GPIO { return &a(c).GPIO })
	for _, state := range []struct {
		suffix, words string
		table         [3]string
		row           func(c *Config) *[engine.Act + 1]string
	}{
		{"", "while the pump turns or may turn", t.turning, func(c *Config) *[engine.Act + 1]string { return &a(c).Turning }},
		{"_standing", "while it stands", t.standing, func(c *Config) *[engine.Act + 1]string { return &a(c).Standing }},
	} {
		for i, level := range []engine.Level{engine.Advice, engine.Warning, engine.Act} {
			keys = append(keys, Key{Name: level.String() + state.suffix, Kind: Choice, Choices: patternNames, Default: `"` + state.table[i] + `"`,
				Doc: "At the severity " + level.String() + " " + state.words + ".", field: func(c *Config, _ int) any { return &state.row(c)[level] }})
		}
	}
	return append(keys, Key{Name: "stopped", Kind: Choice, Choices: patternNames, Default: `"` + t.stopped + `"`,
		Doc: "While a stop waits for a reset and nothing louder stands.", field: func(c *Config, _ int) any { return &a(c).Stopped }})
}

// outputKeys are the switch and the line of an output or button.
func outputKeys(doc string, on func(c *Config) *bool, g func(c *Config) *GPIO) []Key {
	at := func(c *Config, _ int) *GPIO { return g(c) }
	keys := []Key{{Name: "on", Kind: Flag, Default: `false`, Doc: doc, field: func(c *Config, _ int) any { return on(c) }}}
	return append(append(keys, gpioKeys(`"GPIO22"`, at)...), activeLowKey("false", at))
}

func buttonKeys(b func(c *Config) *Button) []Key {
	keys := outputKeys("There is such a button.", func(c *Config) *bool { return &b(c).On }, func(c *Config) *GPIO { return &b(c).GPIO })
	return append(keys, biasKey(func(c *Config, _ int) *GPIO { return &b(c).GPIO }))
}

func stopKeys() []Key {
	s := func(c *Config) *Stop { return &c.Outputs.Stop }
	keys := outputKeys("There is a stop relay. The first of the two settings.", func(c *Config) *bool { return &s(c).On }, func(c *Config) *GPIO { return &s(c).GPIO })
	return append(keys, []Key{
		{Name: "confirm", Kind: Text, Default: `""`, Why: `the second: write "` + Confirmed + `"`,
			Doc: "The second of the two settings, in words.", field: func(c *Config, _ int) any { return &s(c).Confirm }},
		{Name: "rules", Kind: Names, Choices: ruleNames(), Default: `[]`, Why: "nothing stops the machine until you say what",
			Doc: "Rules whose second stage, act, stops the machine. For a pump that starves for example no_flow.", field: func(c *Config, _ int) any { return stopRules(c) }},
		{Name: "polarity", Kind: Choice, Choices: []string{"energised_runs", "energised_stops"}, Default: `"energised_runs"`, Why: "a dead board or a broken wire stops the machine",
			Doc: "What a coil with current means. energised_stops lets the machine run through all faults of the board.", field: func(c *Config, _ int) any { return func(p string) { s(c).EnergisedStops = p == "energised_stops" } }},
		{Name: "pulse_every", Kind: Measure, Quantity: units.Duration, Max: 1, Default: `"0 s"`, Why: "a steady level",
			Doc: "Above 0 the line changes that often while the machine may run, for a relay module that drops when the pulses end, whatever the level.", field: func(c *Config, _ int) any { return &s(c).PulseEvery }},
		{Name: "override", Kind: Measure, Quantity: units.Duration, Max: 60, Default: `"10 s"`, Why: "to close a gun and drop the pressure; our judgement, no source",
			Doc: "How long the hold button may keep the machine running against a stop. \"0 s\": never.", field: func(c *Config, _ int) any { return &s(c).Override }},
		{Name: "at_start", Kind: Choice, Choices: []string{"wait_for_reset", "run"}, Default: `"wait_for_reset"`,
			Doc: "What happens when the daemon starts. run only where the machine can't start by the return of its supply: a starter with no-volt release, or an engine.", field: func(c *Config, _ int) any { return func(p string) { s(c).RunAtStart = p == "run" } }},
	}...)
}

func ruleNames() []string {
	out := make([]string, 0, engine.NumRules)
	for r := range engine.NumRules {
		out = append(out, r.String())
	}
	return out
}

func stopRules(c *Config) func([]string) {
	return func(names []string) {
		c.Outputs.Stop.Rules = [engine.NumRules]bool{}
		for r := range engine.NumRules {
			for _, n := range names {
				c.Outputs.Stop.Rules[r] = c.Outputs.Stop.Rules[r] || n == r.String()
			}
		}
	}
}
