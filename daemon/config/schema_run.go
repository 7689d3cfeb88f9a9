package config

import (
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

func runSchema() []Section {
	return []Section{
		{Name: "states", Doc: "How the daemon tells what the machine is doing, and how long it bridges.", Keys: append(stateKeys(), bridgeKeys()...)},
		{Name: "normal", Doc: "Learning this machine's own normal, for the rule departure. Learn on a healthy machine.", Keys: normalKeys()},
		{Name: "alarms", Doc: "What people must do about alarms.", Keys: []Key{
			{Name: "quiet_return", Kind: Choice, Choices: []string{"none", "advice", "warning"}, Default: `"warning"`, Why: "what asked to act wants to be known even when it is gone",
				Doc: "Highest level whose alarms, once gone, need no acknowledgement.", field: quietField},
		}},
		serverSection(),
		recordSection(),
		serviceSection(),
		{Name: "simulator", Doc: "Simulated readings in the sensors' place. Switch it off on a real machine.", Keys: simulatorKeys()},
	}
}

func quietField(c *Config, _ int) any {
	return func(text string) {
		c.Engine.QuietReturn = map[string]engine.Level{"advice": engine.Advice, "warning": engine.Warning}[text]
	}
}

func unitsField(c *Config, _ int) any {
	return func(text string) {
		c.Units = units.SI
		if text == "US" {
			c.Units = units.US
		}
	}
}

func stateKeys() []Key {
	return []Key{
		{Name: "start_time", Kind: Measure, Quantity: units.Duration, Max: 60, Default: `"3 s"`, Why: "inrush is over in a second, filling the hose takes a few",
			Doc: "How long a start may take before the rules for running hold.", field: func(c *Config, _ int) any { return &c.Engine.States.StartTime }},
		{Name: "stop_time", Kind: Measure, Quantity: units.Duration, Max: 60, Default: `"3 s"`, Why: "until pressure and flow have died away",
			Doc: "How long the machine counts as stopping.", field: func(c *Config, _ int) any { return &c.Engine.States.StopTime }},
		{Name: "bypass_after", Kind: Measure, Quantity: units.Duration, Max: 60, Default: `"2 s"`, Why: "a stutter of the flow meter is no bypass",
			Doc: "How long the outlet must look closed.", field: func(c *Config, _ int) any { return &c.Engine.States.BypassAfter }},
		{Name: "fed_inlet", Kind: Measure, Quantity: units.Pressure, Min: -101325, Max: 2e6, Default: `"50 kPa"`,
			Doc: "Inlet pressure, gauge, above which no flow means a closed outlet and not a closed supply. For a tank it may be 0 or suction; a tank whose level is known to be above tank_low counts as fed too.", field: func(c *Config, _ int) any { return &c.Engine.Machine.FedInletPa }},
		{Name: "flow_on", Kind: Measure, Quantity: units.FlowRate, ShareOf: "machine.rated_flow", Max: 0.02, Above: true, Default: `"8 %"`, Why: practice,
			Doc: "Flow above which water counts as flowing: a flow, or a share of machine.rated_flow.", field: func(c *Config, _ int) any { return &c.Engine.Machine.FlowOnM3s }},
		{Name: "run_current", Kind: Measure, Quantity: units.Current, Max: 500, Default: `"3 A"`, Bare: true, Why: "half of the no-load current of a small motor: " + practice,
			Doc: "Current above which the pump counts as turning. \"0 A\": current shall not tell. On a real machine it follows from the motor's plate where that is written and this is not.", field: func(c *Config, _ int) any { return &c.Engine.Machine.RunCurrentA }},
		{Name: "run_speed", Kind: Measure, Quantity: units.Speed, Max: 200, Default: `"200 rpm"`, Bare: true,
			Doc: "Shaft speed above which the pump counts as turning. \"0 rpm\": speed shall not tell.", field: func(c *Config, _ int) any { return &c.Engine.Machine.RunSpeedHz }},
		{Name: "run_outlet", Kind: Measure, Quantity: units.Pressure, Max: 60e6, Example: `"2 MPa"`, Why: "off: an unloader can hold pressure in a pump that stands",
			Doc: "Outlet pressure, gauge, above which the pump counts as turning, for a machine with no better sign.", field: func(c *Config, _ int) any { return &c.Engine.Machine.RunOutletPa }},
	}
}

func bridgeKeys() []Key {
	return []Key{
		{Name: "max_gap", Kind: Measure, Quantity: units.Duration, Max: 600, Above: true, Default: `"5 s"`,
			Doc: "Longest time without a frame that is bridged: beyond it delays and trends start anew.", field: func(c *Config, _ int) any { return &c.Engine.MaxGap }},
		{Name: "sensor_delay", Kind: Measure, Quantity: units.Duration, Max: 600, Default: `"3 s"`, Why: "one lost reading is no fault, and no damage is quicker with the other channels watching",
			Doc: "How long a sensor must fail before its alarm.", field: func(c *Config, _ int) any { return &c.Engine.SensorOn }},
		{Name: "sensor_clear", Kind: Measure, Quantity: units.Duration, Max: 600, Default: `"5 s"`, Why: "a loose plug comes and goes",
			Doc: "How long it must be well before the alarm clears.", field: func(c *Config, _ int) any { return &c.Engine.SensorOff }},
	}
}

func normalKeys() []Key {
	return []Key{
		{Name: "learn", Kind: Measure, Quantity: units.Duration, Max: 86400, Default: `"0 s"`,
			Doc: "How much running is learned from; \"0 s\" learns nothing.", field: func(c *Config, _ int) any { return &c.Engine.Normal.LearnS }},
		{Name: "window", Kind: Measure, Quantity: units.Duration, Max: 3600, Above: true, Default: `"10 s"`,
			Doc: "Memory of the mean that is compared.", field: func(c *Config, _ int) any { return &c.Engine.Normal.WindowS }},
		{Name: "channels", Kind: Names, Choices: channelNames(), Default: `["flow", "vibration"]`,
			Doc: "Channels that are compared.", field: normalChannels},
	}
}

func normalChannels(c *Config, _ int) any {
	return func(names []string) {
		c.Engine.Normal.Channels = [frame.NumChannels]bool{}
		for _, n := range names {
			if ch, ok := frame.ByName(n); ok {
				c.Engine.Normal.Channels[ch] = true
			}
		}
	}
}

func channelNames() []string {
	out := make([]string, 0, frame.NumChannels)
	for c := range frame.NumChannels {
		out = append(out, c.String())
	}
	return out
}

func simulatorKeys() []Key {
	return []Key{
		{Name: "on", Kind: Flag, Default: `true`, Bare: true, Why: "so that this file runs without a machine",
			Doc: "Simulate. A file that maps the columns of a recording and does not say is off.", field: func(c *Config, _ int) any { return &c.Simulator.On }},
		{Name: "scenario", Kind: Text, Default: `"demo"`,
			Doc: "A scenario's file, or \"demo\" for the built-in one.", field: func(c *Config, _ int) any { return &c.Simulator.Scenario }},
		{Name: "speed", Kind: Number, Min: 0.1, Max: 1000, Default: `1`,
			Doc: "How much faster than life.", field: func(c *Config, _ int) any { return &c.Simulator.Speed }},
		{Name: "seed", Kind: Count, Max: 1 << 53, Default: `1`,
			Doc: "Seed of the noise: the same seed gives the same run.", field: func(c *Config, _ int) any { return &c.Simulator.Seed }},
	}
}
