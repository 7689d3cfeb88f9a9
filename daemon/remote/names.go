package remote

import (
	"strings"

	"headroom/rules/frame"
	"headroom/rules/units"
)

// The names are those of the local metrics wherever the meaning is the same, so
// that the same alert rules and dashboards serve both. What only a window has
// says so: the least and the greatest reading, the least headroom.
const (
	nameFresh    = "headroom_fresh"
	nameBuild    = "headroom_build_info"
	nameStatus   = "headroom_channel_status"
	nameState    = "headroom_machine_state"
	nameAlarm    = "headroom_alarm_active"
	nameHeadroom = "headroom_rule_headroom_min_ratio"
	nameBlind    = "headroom_rules_blind"

	nameStarts    = "headroom_starts_total"
	nameWater     = "headroom_water_cubic_meters_total"
	nameEnergy    = "headroom_apparent_energy_joules_total"
	nameInState   = "headroom_machine_state_seconds_total"
	nameBeyond    = "headroom_rule_beyond_limit_seconds_total"
	nameWatched   = "headroom_rule_watched_seconds_total"
	nameBlindTime = "headroom_rule_blind_seconds_total"
	nameRaised    = "headroom_alarm_activations_total"
)

func isCounter(name string) bool { return strings.HasSuffix(name, "_total") }

// readingNames are the metrics of one quantity's windows: mean, least, greatest.
type readingNames struct{ mean, least, most string }

// namesOf gives a quantity's names; ok is false for one that no channel has.
func namesOf(q units.Quantity) (n readingNames, ok bool) {
	what, unit := "", ""
	switch q {
	case units.Pressure:
		what, unit = "pressure", "pascals"
	case units.Temperature:
		what, unit = "temperature", "celsius"
	case units.FlowRate:
		what, unit = "flow", "cubic_meters_per_second"
	case units.Current:
		what, unit = "current", "amperes"
	case units.Speed:
		what, unit = "speed", "hertz"
	case units.Voltage:
		what, unit = "voltage", "volts"
	case units.Acceleration:
		what, unit = "acceleration", "meters_per_second_squared"
	case units.Fraction:
		what, unit = "level", "ratio"
	case units.Switch:
		return readingNames{mean: "headroom_switch_on"}, true
	default:
		return n, false
	}
	return readingNames{"headroom_" + what + "_" + unit, "headroom_" + what + "_min_" + unit, "headroom_" + what + "_max_" + unit}, true
}

// outside converts a reading to the unit of its metric.
func outside(q units.Quantity, v float64) float64 {
	if q == units.Temperature {
		return units.For(units.Temperature, units.SI).FromSI(v)
	}
	return v
}

// Names are the names of all metrics that are sent, for those who write rules
// and dashboards.
func Names() (out []string) {
	out = []string{
		nameFresh, nameBuild, nameStatus, nameState, nameAlarm, nameHeadroom, nameBlind, nameStarts, nameWater, nameEnergy,
		nameInState, nameBeyond, nameWatched, nameBlindTime, nameRaised,
	}
	seen := map[string]bool{}
	for ch := range frame.NumChannels {
		n, _ := namesOf(ch.Quantity())
		for _, name := range [...]string{n.mean, n.least, n.most} {
			if name != "" && !seen[name] {
				seen[name] = true
				out = append(out, name)
			}
		}
	}
	return out
}
