package metrics

import (
	"github.com/prometheus/client_golang/prometheus"

	"headroom/rules/units"
)

// descs are the descriptions of all metrics.
type descs struct {
	build, readings, fresh, uptime                         *prometheus.Desc
	values                                                 map[units.Quantity]*prometheus.Desc
	status                                                 *prometheus.Desc
	share, timeTo, timeToEarliest, judge, blind            *prometheus.Desc
	margins                                                map[units.Quantity]*prometheus.Desc
	watched, blindTime, beyond                             *prometheus.Desc
	alarm, raised, phase                                   *prometheus.Desc
	calling, flood, annunciations, acts                    *prometheus.Desc
	state, stateTime, starts, water, energy                *prometheus.Desc
	ticks, rejected, gaps, late, dropped, failing, restart *prometheus.Desc
	notifySent, notifyFailed, notifyDropped, notifyWaiting *prometheus.Desc
	system                                                 *prometheus.Desc
	remote                                                 remoteDescs
}

func desc(name, help string, labels ...string) *prometheus.Desc {
	return prometheus.NewDesc("headroom_"+name, help, labels, nil)
}

func newDescs() descs {
	d := descs{
		build:    desc("build_info", "The program, always 1.", "version", "goversion"),
		readings: desc("readings_info", "What gives the readings, always 1: sensors, or simulator or playback, which are no machine's own and count for nothing.", "from"),
		fresh:    desc("fresh", "1 while the newest tick is not older than 5 s; 0 before the first and when the machine is not looked at any more."),
		uptime:   desc("uptime_seconds", "Time from the program's start to the newest tick."),
		status:   desc("channel_status", "1 for the status that the channel has, 0 for the others.", "channel", "status"),

		share:          desc("rule_headroom_ratio", "Headroom as a share of what is ample: 1 or more is ample, 0 is at the limit, below 0 beyond it. Only while the rule judges.", "rule"),
		timeTo:         desc("rule_time_to_limit_seconds", "Time until the limit at the present trend. Only while there is a trend towards it that can be told from noise.", "rule"),
		timeToEarliest: desc("rule_time_to_limit_earliest_seconds", "The earliest time until the limit, at two standard errors.", "rule"),
		judge:          desc("rule_judge", "1 for how the rule can judge now, 0 for the others; only watching gives a headroom.", "rule", "judge"),
		blind:          desc("rules_blind", "Rules that should judge and can't."),
		watched:        desc("rule_watched_seconds_total", "Time that the rule judged.", "rule"),
		blindTime:      desc("rule_blind_seconds_total", "Time that the rule should have judged and couldn't.", "rule"),
		beyond:         desc("rule_beyond_limit_seconds_total", "Time beyond each limit, without the alarm's delay.", "rule", "limit"),

		alarm:  desc("alarm_active", "1 while the alarm stands.", "alarm", "level"),
		raised: desc("alarm_activations_total", "How often the alarm came up.", "alarm"),
		phase:  desc("alarm_phase", "1 for the phase of its life that the alarm is in, 0 for the others. Only for alarms that are not normal or came up since the start; none of the phases reads 1 while an alarm is normal.", "alarm", "phase"),

		calling:       desc("alarms_calling", "Alarms that ask for a person: not acknowledged and not put aside."),
		flood:         desc("alarm_flood", "1 while more alarms came lately than anybody can take in."),
		annunciations: desc("alarm_annunciations_total", "How often an alarm began to ask for a person. Consequences under their cause don't count."),
		acts:          desc("alarm_acts_total", "What people did to alarms.", "act"),

		state:     desc("machine_state", "1 for what the machine is doing, 0 for the others.", "state"),
		stateTime: desc("machine_state_seconds_total", "Time in each state.", "state"),
		starts:    desc("starts_total", "Starts of the pump."),
		water:     desc("water_cubic_meters_total", "Water drawn from the supply, over good flow readings."),
		energy:    desc("apparent_energy_joules_total", "Volt times ampere times time, over good readings of both."),
	}
	d.daemonDescs()
	d.values, d.margins = valueDescs(), marginDescs()
	return d
}

func (d *descs) daemonDescs() {
	d.ticks = desc("ticks_total", "Ticks that were judged.")
	d.rejected = desc("ticks_rejected_total", "Ticks whose time did not move on.")
	d.gaps = desc("tick_gaps_total", "Pauses between ticks that were too long to bridge.")
	d.late = desc("ticks_late_total", "Ticks that came more than half a period late.")
	d.dropped = desc("record_dropped_frames_total", "Frames that the record could not take in time.")
	d.failing = desc("record_failing", "1 while the record cannot be written.")
	d.notifySent = desc("notify_sent_total", "Alarm states that a target of notifications took.", "target")
	d.notifyFailed = desc("notify_failures_total", "Attempts to notify that failed and are tried again.", "target")
	d.notifyDropped = desc("notify_dropped_total", "Alarm states that a target never got.", "target")
	d.notifyWaiting = desc("notify_waiting", "Alarms that wait to be told.", "target")
	d.system = desc("system_alarm_active", "1 while the alarm about the program itself stands.", "alarm", "level")
	d.remote = newRemoteDescs()
	d.restart = desc("driver_restarts_total", "How often a driver ended and was started again.")
}

// unitOf is a quantity's base unit as it ends a name; empty for quantities that
// no metric has. Temperatures are in celsius, as the guidelines ask for.
func unitOf(q units.Quantity) string {
	switch q {
	case units.Pressure:
		return "pascals"
	case units.Temperature, units.TemperatureDifference:
		return "celsius"
	case units.FlowRate:
		return "cubic_meters_per_second"
	case units.Current:
		return "amperes"
	case units.Speed:
		return "hertz"
	case units.Voltage:
		return "volts"
	case units.Acceleration:
		return "meters_per_second_squared"
	case units.Fraction:
		return "ratio"
	case units.Head:
		return "meters"
	case units.Duration:
		return "seconds"
	}
	return ""
}

// valueDescs are the channels' readings: one metric for each quantity, since a
// metric has one unit.
func valueDescs() map[units.Quantity]*prometheus.Desc {
	out := map[units.Quantity]*prometheus.Desc{
		units.Switch: desc("switch_on", "1 while a digital input is on. Only good readings.", "channel"),
	}
	for q, name := range map[units.Quantity]string{
		units.Pressure: "pressure", units.Temperature: "temperature", units.FlowRate: "flow", units.Current: "current",
		units.Speed: "speed", units.Voltage: "voltage", units.Acceleration: "acceleration", units.Fraction: "level",
	} {
		help := "Reading of each channel that measures it. Only good readings."
		if q == units.Pressure {
			help = "Reading of each channel that measures it: gauge, but absolute for air_pressure and the RMS of the fast part for inlet_pulsation. Only good readings."
		}
		out[q] = desc(name+"_"+unitOf(q), help, "channel")
	}
	return out
}

// marginDescs are the rules' headrooms in their own units.
func marginDescs() map[units.Quantity]*prometheus.Desc {
	out := map[units.Quantity]*prometheus.Desc{}
	for _, q := range []units.Quantity{
		units.Pressure, units.TemperatureDifference, units.FlowRate, units.Current, units.Voltage, units.Fraction, units.Head, units.Duration,
	} {
		out[q] = desc("rule_margin_"+unitOf(q), "Distance to the limit, below 0 beyond it. Only while the rule judges.", "rule")
	}
	return out
}

func (d *descs) all(ch chan<- *prometheus.Desc) {
	for _, x := range []*prometheus.Desc{
		d.build, d.readings, d.fresh, d.uptime, d.status, d.share, d.timeTo, d.timeToEarliest, d.judge, d.blind, d.watched, d.blindTime, d.beyond,
		d.alarm, d.raised, d.phase, d.calling, d.flood, d.annunciations, d.acts, d.state, d.stateTime, d.starts, d.water, d.energy,
		d.ticks, d.rejected, d.gaps, d.late, d.dropped, d.failing, d.restart,
		d.notifySent, d.notifyFailed, d.notifyDropped, d.notifyWaiting, d.system,
	} {
		ch <- x
	}
	d.remote.all(ch)
	for _, x := range d.values {
		ch <- x
	}
	for _, x := range d.margins {
		ch <- x
	}
}
