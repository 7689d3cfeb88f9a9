package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/engine"
)

// TestNothingBelongsToTwoRuns: every moment belongs to one run at most, a run
// to itself, and what is near to one run alone belongs to it.
func TestNothingBelongsToTwoRuns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var list []stretch
		at := time.Duration(rapid.Int64Range(1, 1e12).Draw(t, "first")) // no run ends at 0
		for range rapid.IntRange(1, 6).Draw(t, "runs") {
			end := at + time.Duration(rapid.Int64Range(0, 1e12).Draw(t, "lasts"))
			list = append(list, stretch{start: at, end: end})
			at = end + time.Duration(rapid.Int64Range(2, 1e12).Draw(t, "pause"))
		}
		for i := range list {
			var before, after time.Duration
			if i > 0 {
				before = list[i-1].end
			}
			if i+1 < len(list) {
				after = list[i+1].start
			}
			x := &list[i]
			x.from, x.to = Around(x.start, x.end, before, after)
			require.LessOrEqual(t, x.from, x.start)
			require.GreaterOrEqual(t, x.to, x.end)
			require.LessOrEqual(t, x.start-x.from, LeadIn)
			require.LessOrEqual(t, x.to-x.end, LeadOut)
			if i > 0 {
				require.Greater(t, x.from, list[i-1].to)
				if x.start-before <= LeadIn {
					require.Equal(t, list[i-1].to+1, x.from, "the pause is shared out whole")
				}
			}
		}
	})
}

// incident is an alarm of weight that comes at a time, or one of less.
func incident(at time.Duration, name string, level engine.Level) Event {
	return Event{Boot: 1, T: at, Alarm: name, Raised: true, Level: level.String(), LevelN: uint8(level)}
}

// TestAlarmsAreCountedWhereTheyBelong: one before a start and one after a stop
// are the run's; one further away is the boot's, once.
func TestAlarmsAreCountedWhereTheyBelong(t *testing.T) {
	const m = time.Minute
	one, two := stretch{id: RunID{1, 1}, start: 10 * m, end: 20 * m}, stretch{id: RunID{1, 2}, start: 40 * m, end: 50 * m}
	one.from, one.to = Around(one.start, one.end, 0, two.start)
	two.from, two.to = Around(two.start, two.end, one.end, 0)
	runs := []stretch{one, two}
	events := []Event{
		incident(1*m, "start_jam.act", engine.Act), incident(9*m, "frost.act", engine.Act), incident(21*m, "power_lost.act", engine.Act),
		incident(25*m, "sensor.flow", engine.Advice), incident(30*m, "start_jam.act", engine.Act), incident(39*m, "inlet_low.warn", engine.Warning),
		{Boot: 1, T: 31 * m, Alarm: "start_jam.act", LevelN: uint8(engine.Act)},
	}
	for _, x := range []struct {
		run               Run
		raised, incidents int
		first             string
		start, end        time.Duration
	}{
		{Run{ID: one.id, From: one.from, To: one.to}, 2, 2, "frost.act", 0, 0},
		{Run{ID: two.id, From: two.from, To: two.to}, 1, 1, "inlet_low.warn", 0, 0},
		{Run{ID: RunID{Boot: 1}, To: 1 << 62}, 3, 2, "start_jam.act", 1 * m, 30 * m},
	} {
		x.run.count(events, runs)
		require.Equal(t, x.raised, x.run.Raised, x.run.ID)
		require.Equal(t, x.incidents, x.run.Incidents, x.run.ID)
		require.Equal(t, x.first, x.run.FirstOut, x.run.ID)
		require.Equal(t, []time.Duration{x.start, x.end}, []time.Duration{x.run.Start, x.run.End}, x.run.ID)
	}
}
