package review

import (
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
)

// TestTheListCountsWhatTheAccountTells: what fails at a start, or after the
// pump stops, must not be missing from the list of runs. Source: the scripts'
// own comments say when each of these alarms comes.
func TestTheListCountsWhatTheAccountTells(t *testing.T) {
	for _, x := range []struct {
		scenario string
		runs     int
		// alarms that must be counted in a run, or outside of any.
		inRun, outside []string
		source         string
	}{
		{"jam_at_start", 0, nil, []string{"start_jam.act"}, "a motor that never begins to turn begins no run"},
		{"no_power_at_start", 0, nil, []string{"power_lost.act"}, "nor does one without power"},
		{"breaker_trips", 1, []string{"power_lost.act"}, nil, "the trip comes after the last frame in which the pump turned"},
		{"frost_hard", 1, []string{"frost.act"}, nil, "the cold is there before the start"},
		{"kinked_hose", 1, []string{"inlet_low.act"}, nil, "all in the run"},
	} {
		t.Run(x.scenario, func(t *testing.T) {
			r := read(t, play(t, script{Scenario: x.scenario}))
			entries, err := r.ListEntries(ctx, 0)
			require.NoError(t, err)
			var inRun, outside []string
			runs, told := 0, 0
			for i := range entries {
				e := &entries[i]
				a, err := Tell(ctx, r, e.ID, Options{})
				require.NoError(t, err)
				requireTrue(t, r, a)
				told += e.Raised
				one, err := r.Run(ctx, e.ID)
				require.NoError(t, err)
				require.Equal(t, *e, one)
				if e.ID.N == 0 {
					for _, l := range a.Summary.Alarms {
						outside = append(outside, l.Name)
					}
					continue
				}
				runs++
				require.Len(t, a.Summary.Alarms, e.Raised, "the same alarms")
				weighty := 0
				for _, l := range a.Summary.Alarms {
					inRun = append(inRun, l.Name)
					if l.Level >= engine.Warning {
						weighty++
					}
				}
				require.Equal(t, weighty, e.Incidents)
			}
			require.Equal(t, x.runs, runs)
			require.Subset(t, inRun, x.inRun, x.source)
			require.Subset(t, outside, x.outside, x.source)
			require.Equal(t, len(x.outside) == 0, len(outside) == 0, "%v", outside)
			events, err := r.Events(ctx, RunID{Boot: 1})
			require.NoError(t, err)
			for _, e := range events {
				if e.Incident() {
					told--
				}
			}
			require.GreaterOrEqual(t, told, 0, "no alarm of weight is in no entry")
		})
	}
}
