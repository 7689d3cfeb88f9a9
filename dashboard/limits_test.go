package dashboard

import (
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/trend"
	"headroom/rules/units"
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
