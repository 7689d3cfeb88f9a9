package dashboard

import (
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/trend"
	"headroom/rules/units"
	"headroom/rules/words"
)

// The nearest limit is the one that is reached first, where that is clear; a
// trend that isn't says nothing of what is nearest.
func TestNearestGoesByTimeToo(t *testing.T) {
	for _, c := range []struct {
		name  string
		share float64
		sure  trend.Sure
		timeS float64
		first engine.RuleID
	}{
		{"clearly in two minutes", 0.6, trend.High, 120, engine.WaterHot},
		{"perhaps in two minutes", 0.8, trend.Low, 120, engine.CircuitLoad},
		{"clearly in an hour", 0.8, trend.High, 3600, engine.CircuitLoad},
		{"nearer anyhow", 0.3, trend.High, 3600, engine.WaterHot},
	} {
		sc := steady()
		sc.watch(engine.CircuitLoad, 15).Share = 0.5
		v := sc.watch(engine.WaterHot, 330)
		v.Share, v.Sure, v.TimeToS, v.EarliestS, v.LatestS = c.share, c.sure, c.timeS, c.timeS, c.timeS
		rows, _ := newServer(testOptions(), sc.feed()).limitRows(&sc.snap, units.SI)
		want := "Circuit load"
		if c.first == engine.WaterHot {
			want = "Water temperature"
		}
		require.Equal(t, want, rows[0].Name, c.name)
	}
	// What is passed comes before whatever will be reached in a second.
	passed := engine.Verdict{Share: -0.1, Sure: trend.None}
	soon := engine.Verdict{Share: 0.5, Sure: trend.High, TimeToS: 1}
	require.Less(t, nearness(&passed), nearness(&soon))
}

// A breaker that may trip or hold has an answer and no number: it is watched,
// stands among the limits, and nearer where it may trip at any moment.
func TestMayTripIsAnAnswerWithoutANumber(t *testing.T) {
	for judge, at := range map[engine.Judge]string{engine.MayTripNow: "at any moment", engine.MayTripLater: "after a while"} {
		sc := steady()
		sc.cannot(engine.BreakerTime, judge, frame.NumChannels)
		s := newServer(testOptions(), sc.feed())
		rows, _ := s.limitRows(&sc.snap, units.SI)
		found := false
		for i, row := range rows {
			if row.Name != words.Rule(engine.BreakerTime) {
				continue
			}
			found = true
			require.Contains(t, row.Reason, at)
			require.Empty(t, row.Amount)
			require.Equal(t, judge == engine.MayTripNow, i == 0, "the nearest only where it may come now")
		}
		require.True(t, found)
		require.Equal(t, "8 of 11 limits watching", coverage(&sc.snap.Verdicts))
	}
}
