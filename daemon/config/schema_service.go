package config

import (
	"strconv"
	"strings"

	"headroom/rules/units"
	"headroom/rules/wear"
)

// serviceSection has up to four keys a task: hours until the first time and
// from then on, starts, and uses.
func serviceSection() Section {
	s := Section{Name: "service", Terse: true, Doc: `How often each thing is looked after; "headroom service" shows what is due.
  NAME         every so many hours of running; "0 h" for never.
  NAME_first   the first time, where that is sooner.
  NAME_starts  every so many starts; 0 for never.
  NAME_uses    every so many times out; 1 for each time before it runs.
Common practice, no source: the maker's book of your pump decides.`}
	defaults := wear.DefaultIntervals()
	for t := range wear.NumTasks {
		s.Keys = append(s.Keys, serviceKeys(t, defaults[t])...)
	}
	return s
}

func serviceKeys(t wear.Task, d wear.Interval) []Key {
	name := strings.NewReplacer(" ", "_", "-", "_").Replace(t.String())
	hours := func(name string, si float64, field func(v *wear.Interval) *float64) Key {
		return Key{Name: name, Kind: Measure, Quantity: units.Duration, Max: 1e8, Default: strconv.Quote(strconv.FormatFloat(si/3600, 'g', -1, 64) + " h"),
			Doc: "Hours of running.", field: func(c *Config, _ int) any { return field(&c.Service[t]) }}
	}
	count := func(name string, n uint32, field func(v *wear.Interval) *uint32) Key {
		return Key{Name: name, Kind: Count, Max: 1e6, Default: strconv.FormatUint(uint64(n), 10), Doc: "How many.",
			field: func(c *Config, _ int) any { return field(&c.Service[t]) }}
	}
	return []Key{
		hours(name, d.EveryS, func(v *wear.Interval) *float64 { return &v.EveryS }),
		hours(name+"_first", d.FirstS, func(v *wear.Interval) *float64 { return &v.FirstS }),
		count(name+"_starts", d.EveryStarts, func(v *wear.Interval) *uint32 { return &v.EveryStarts }),
		count(name+"_uses", d.EveryUses, func(v *wear.Interval) *uint32 { return &v.EveryUses }),
	}
}
