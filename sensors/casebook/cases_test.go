package casebook_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/sensors/scenario"
)

// TestCases holds every case against its file and against the oracle.
func TestCases(t *testing.T) {
	for _, tp := range all() {
		t.Run(tp.s.Name, func(t *testing.T) {
			requireKnown(t, tp.s)
			times, wrong := tp.judge(&tp.run)
			if len(wrong) > 0 || testing.Verbose() {
				tell(t, tp, times)
			}
			for _, w := range wrong {
				t.Error(w)
			}
		})
	}
}

// judge holds one run of a case against its file and against the oracle.
func (tp *tape) judge(r *run) (times []timed, wrong []string) {
	times, wrong = tp.judgeTiming(r)
	wrong = append(tp.s.Check(r.log), wrong...)
	for i := range times {
		if x := &times[i]; x.bound > 0 && x.latency > x.bound {
			wrong = append(wrong, sprintf("%s took %v from its onset at %s, and no more than %v is explained", alarmName(x.alarm), x.latency, clock(x.onset), x.bound))
		}
	}
	return times, wrong
}

func tell(t *testing.T, tp *tape, times []timed) {
	for _, h := range tp.run.log {
		t.Logf("%s %s until %s under %q called %v, again %d", clock(h.At), h.Alarm, clock(h.Gone), h.Under, h.Called, h.Again)
	}
	for i := range times {
		x := &times[i]
		t.Logf("%s: onset %s, latency %v, bound %v", alarmName(x.alarm), clock(x.onset), x.latency, x.bound)
	}
}

// requireKnown catches a misspelt alarm.
func requireKnown(t *testing.T, s *scenario.Scenario) {
	for i := range s.Expects {
		_, known := engine.RuleByName(s.Expects[i].Rule)
		require.True(t, known || s.Expects[i].Rule == "sensor", "the engine has no rule %q", s.Expects[i].Rule)
	}
}

// TestTheLibraryIsComplete: enough cases, every fault in one, and both stages of
// every rule that is on by itself raised in one.
func TestTheLibraryIsComplete(t *testing.T) {
	require.GreaterOrEqual(t, len(all()), 46, "45 cases and the demo")
	faults, raised := map[scenario.FaultKind]bool{}, map[engine.AlarmID]int{}
	for _, tp := range all() {
		for _, f := range tp.s.Faults {
			faults[f.Kind] = true
		}
		for _, s := range tp.run.spans {
			raised[s.alarm]++
		}
	}
	for _, name := range scenario.FaultNames() {
		k, _ := scenario.FaultByName(name)
		require.True(t, faults[k], "no case has the fault %s", name)
	}
	for a := range engine.AlarmID(2 * int(engine.NumRules)) {
		if stageOf(&all()[0].cfg, a).present {
			require.NotZero(t, raised[a], "no case raises %s", alarmName(a))
		}
	}
}
