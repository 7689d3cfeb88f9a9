package ruleset

// programRules are about the program and the way to it. A jetter is switched
// off most of the time: that it can't be reached means nothing for days.
func programRules() []rule {
	const group = "headroom-program"
	one := func(name string) string { return name + `{job="headroom",instance="j1"}` }
	fires := func(severity string) map[string]string {
		return map[string]string{"job": "headroom", "instance": "j1", "severity": severity}
	}
	rules := append(watchingRules(one, fires), missedRules(one, fires)...)
	rules = append(rules, senderRules(one, fires)...)
	rules = append(rules, seenRules()...)
	for i := range rules {
		rules[i].group = group
	}
	return rules
}

// watchingRules are about what the program sees.
func watchingRules(one func(string) string, fires func(string) map[string]string) []rule {
	return []rule{
		{
			name: "HeadroomNotWatching", expr: "headroom_fresh == 0", forTime: "2m", severity: "warning",
			summary:     "The program runs and watches nothing",
			cause:       "Its tick stands still: a driver hangs, or the board is overloaded.",
			consequence: "No alarm comes, whatever happens to the pump.",
			action:      "Restart the program. If it comes again, look at its log for the driver that hangs.",
			cases: []ruleCase{
				{"watches nothing", []serie{{one("headroom_fresh"), "0x9"}}, "5m", fires("warning")},
				{"watches", []serie{{one("headroom_fresh"), "1x9"}}, "5m", nil},
				{"has only begun to stand still", []serie{{one("headroom_fresh"), "1 0x9"}}, "2m", nil},
				{"is only starting", []serie{{one("headroom_fresh"), "0 1x9"}}, "5m", nil},
				{"is switched off", []serie{{one("headroom_fresh"), "0 stale"}}, "9m", nil},
			},
		},
		{
			name: "HeadroomBlind", expr: "headroom_rules_blind > 0", forTime: "10m", severity: "warning",
			summary:     "Rules can't judge for want of a reading",
			cause:       "A sensor is missing, failed or contradicted by others.",
			consequence: "What those rules guard against is not seen.",
			action:      "Open the machine's setup page and mend the sensor that is not good.",
			cases: []ruleCase{
				{"is blind", []serie{{one("headroom_rules_blind"), "2x20"}}, "15m", fires("warning")},
				{"has only gone blind", []serie{{one("headroom_rules_blind"), "2x20"}}, "3m", nil},
				{"sees all", []serie{{one("headroom_rules_blind"), "0x20"}}, "15m", nil},
				{"was blind for a moment", []serie{{one("headroom_rules_blind"), "2x5 0x20"}}, "15m", nil},
			},
		},
	}
}

// missedRules are about what comes and goes.
func missedRules(one func(string) string, fires func(string) map[string]string) []rule {
	return []rule{
		{
			name: "HeadroomAlarmMissedByScrapes", forTime: "", severity: "advice",
			expr:        "increase(headroom_alarm_activations_total[10m]) > 0 unless on (job, instance, machine, alarm) max by (job, instance, machine, alarm) (max_over_time(headroom_alarm_active[10m])) == 1",
			summary:     "An alarm came and went between two scrapes",
			cause:       "It stood for a shorter time than the scrape interval.",
			consequence: "It is in the machine's own record, and nobody here saw it.",
			action:      "Look at the machine's alarm page, or scrape more often.",
			cases: []ruleCase{
				{
					"was missed", []serie{
						{`headroom_alarm_activations_total{job="headroom",instance="j1",alarm="no_flow.act"}`, "0x5 1x9"},
						{`headroom_alarm_active{job="headroom",instance="j1",alarm="no_flow.act",level="act"}`, "0x20"},
					}, "9m", map[string]string{"job": "headroom", "instance": "j1", "alarm": "no_flow.act", "severity": "advice"},
				},
				{
					"never was", []serie{
						{`headroom_alarm_activations_total{job="headroom",instance="j1",alarm="no_flow.act"}`, "3x20"},
						{`headroom_alarm_active{job="headroom",instance="j1",alarm="no_flow.act",level="act"}`, "0x20"},
					}, "9m", nil,
				},
				{
					"was seen", []serie{
						{`headroom_alarm_activations_total{job="headroom",instance="j1",alarm="no_flow.act"}`, "0x5 1x9"},
						{`headroom_alarm_active{job="headroom",instance="j1",alarm="no_flow.act",level="act"}`, "0x5 1 0x20"},
					}, "9m", nil,
				},
			},
		},
		{
			name: "HeadroomDriverRestarts", expr: "increase(headroom_driver_restarts_total[1h]) > 5", severity: "advice",
			summary: "A driver keeps ending and is started again", cause: "A bus or a cable is bad.",
			consequence: "Readings come and go.", action: "Check plugs and cables of the channels that are not good.",
			cases: []ruleCase{
				{"keeps restarting", []serie{{one("headroom_driver_restarts_total"), "0+1x60"}}, "59m", fires("advice")},
				{"restarted once", []serie{{one("headroom_driver_restarts_total"), "0x9 1x50"}}, "59m", nil},
			},
		},
	}
}

// senderRules are about the way of the record to a store.
func senderRules(one func(string) string, fires func(string) map[string]string) []rule {
	return []rule{
		{
			name: "HeadroomRecordNotSent", expr: "headroom_remote_failing == 1", forTime: "1d", severity: "advice", slow: true,
			summary: "The record can't be sent to the store of many machines", cause: "The store's address, its password or the link.",
			consequence: "Nothing is lost: the record waits on the machine until it has no more room.",
			action:      "Read the reason in the program's log.",
			cases: []ruleCase{
				{"fails for more than a day", []serie{{one("headroom_remote_failing"), "1x30"}}, "1500m", fires("advice")},
				{"fails since an hour", []serie{{one("headroom_remote_failing"), "1x30"}}, "60m", nil},
				{"failed for a morning", []serie{{one("headroom_remote_failing"), "1x5 0x25"}}, "1500m", nil},
			},
		},
		{
			name: "HeadroomRecordRefused", expr: `increase(headroom_remote_samples_total{outcome="refused"}[1h]) > 0`, severity: "warning",
			summary: "The store refuses a part of the record for good", cause: "It takes no samples as late as these, or two machines have the same name.",
			consequence: "What it refused is missing there; it is still in the machine's own record.",
			action:      "Give the store a window for late samples, and each machine its own name.",
			cases: []ruleCase{
				{"refuses", []serie{{`headroom_remote_samples_total{job="headroom",instance="j1",outcome="refused"}`, "0x5 40x20"}}, "20m",
					map[string]string{"job": "headroom", "instance": "j1", "outcome": "refused", "severity": "warning"}},
				{"takes all", []serie{{`headroom_remote_samples_total{job="headroom",instance="j1",outcome="refused"}`, "0x30"}}, "20m", nil},
				{"takes all", []serie{{`headroom_remote_samples_total{job="headroom",instance="j1",outcome="taken"}`, "0+9x30"}}, "20m", nil},
			},
		},
	}
}

// seenRules are about machines that nobody has heard of for long.
func seenRules() []rule {
	return []rule{
		{
			name: "HeadroomNotSeen", severity: "advice", forTime: "1h", slow: true,
			expr:    "max by (job, instance, machine) (max_over_time(headroom_fresh[60d])) unless max by (job, instance, machine) (max_over_time(headroom_fresh[14d]))",
			summary: "A machine has not been heard of for two weeks", cause: "It is laid up, or its program doesn't start, or its link is gone.",
			consequence: "If it works, nobody sees its alarms here.", action: "Switch it on and look at its own page.",
			cases: []ruleCase{
				{"was seen three weeks ago", []serie{{`headroom_fresh{job="headroom",instance="j1"}`, "1x2"}}, "30240m",
					map[string]string{"job": "headroom", "instance": "j1", "severity": "advice"}},
				{"was off for a week", []serie{{`headroom_fresh{job="headroom",instance="j1"}`, "1x2"}}, "10080m", nil},
				{"is on", []serie{{`headroom_fresh{job="headroom",instance="j1"}`, "1x9"}}, "120m", nil},
			},
		},
		{
			name: "HeadroomNoTargets", severity: "warning", forTime: "1h", expr: `absent(up{job="headroom"}) unless on () count(headroom_fresh)`,
			summary: "No machine is watched at all", cause: "The server's own configuration has no job named headroom, and nothing is sent to it.",
			consequence: "No alarm of any machine arrives here.", action: "Check scrape_configs, or the receiver, of the server.",
			cases: []ruleCase{
				{"has no job", []serie{{`up{job="other",instance="j1"}`, "1x100"}}, "90m", map[string]string{"job": "headroom", "severity": "warning"}},
				{"has machines that are switched off", []serie{{`up{job="headroom",instance="j1"}`, "0x100"}}, "90m", nil},
				{"is sent to", []serie{{`headroom_fresh{job="headroom",machine="Jetter 1"}`, "1x100"}}, "90m", nil},
			},
		},
	}
}
