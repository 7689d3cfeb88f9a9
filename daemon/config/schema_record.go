package config

import (
	"time"

	"headroom/rules/units"
)

// Record says where the record is kept, how much of it, and what of it longest.
type Record struct {
	// Folder on disk.
	Folder string
	// KeepBytes is the size beyond which the oldest part is given up.
	KeepBytes int64
	// WarnFreeBytes is how little room on the medium raises an alarm; 0 for
	// never.
	WarnFreeBytes int64
	// HoldOff is how long the pump must stand until a run counts as ended.
	HoldOff time.Duration
	// IncidentBefore and IncidentAfter are what is kept longest around an
	// alarm or a stop.
	IncidentBefore, IncidentAfter time.Duration
}

func recordSection() Section {
	return Section{Name: "record", Doc: "The record of what happened.", Keys: []Key{
		{Name: "folder", Kind: Text, Default: `""`,
			Doc: "Folder it is kept in; empty for the service's own, or .local/state/headroom in the user's home.", field: func(c *Config, _ int) any { return &c.Record.Folder }},
		{Name: "keep", Kind: Size, Default: `"1 GB"`, Why: "a thousand hours of running and more, on a card of 8 GB with a system on it",
			Doc: "Beyond this size, or three quarters of what is free, the oldest part is thinned: to the least, greatest and mean of each half minute.", field: func(c *Config, _ int) any { return &c.Record.KeepBytes }},
		{Name: "warn_free", Kind: Size, Default: `"200 MB"`, Why: "logs and updates of the system need as much",
			Doc: "Less room than this on the medium, or than a tenth of it, raises an alarm.", field: func(c *Config, _ int) any { return &c.Record.WarnFreeBytes }},
		{Name: "hold_off", Kind: Measure, Quantity: units.Duration, Max: 86400, Above: true, Default: `"60 s"`, Why: "a pause of the trigger ends no run",
			Doc: "How long the pump must stand until a run counts as ended.", field: func(c *Config, _ int) any { return &c.Record.HoldOff }},
		{Name: "incident_before", Kind: Measure, Quantity: units.Duration, Max: 86400, Above: true, Default: `"10 min"`, Why: "how it came to it",
			Doc: "Time before a warning, an alarm or a stop that is kept longest and thinned last.", field: func(c *Config, _ int) any { return &c.Record.IncidentBefore }},
		{Name: "incident_after", Kind: Measure, Quantity: units.Duration, Max: 86400, Above: true, Default: `"5 min"`, Why: "what was done about it",
			Doc: "Time after it that is.", field: func(c *Config, _ int) any { return &c.Record.IncidentAfter }},
	}}
}
