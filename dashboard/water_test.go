package dashboard

import (
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/store"
	"headroom/rules/engine"
	"headroom/rules/units"
)

// Water that nothing measured is unknown, and not none: in the list of runs and
// for programs.
func TestWaterThatNothingMeasuredIsNotZero(t *testing.T) {
	run := &store.Run{ID: store.RunID{Boot: 1, N: 1}}
	require.Empty(t, runRowOf(run, units.SI).Water)
	require.Nil(t, runObject(run)["water_m3"])
	run.Summary.Sums = store.Sums{WaterM3: 0, FlowS: 60}
	require.Contains(t, runRowOf(run, units.SI).Water, "0", "a meter that saw none")
	require.Equal(t, 0.0, runObject(run)["water_m3"])

	require.Nil(t, totalsObject(&engine.Totals{})["water_cubic_meters"])
	require.Equal(t, 0.0, totalsObject(&engine.Totals{FlowS: 1})["water_cubic_meters"])
}
