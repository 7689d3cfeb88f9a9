package engine_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
)

func TestCausesGoOneWayOnly(t *testing.T) {
	require.Equal(t, []engine.RuleID{engine.TankLow}, engine.Causes(engine.InletLow))
	require.Equal(t, []engine.RuleID{engine.Bypass}, engine.Causes(engine.WaterHot))
	require.Empty(t, engine.Causes(engine.Frost))
	require.Nil(t, engine.Causes(engine.NumRules))
	require.Len(t, engine.Causes(engine.Departure), int(engine.NumRules)-1, "whatever happens, the machine leaves its normal")

	// over reports whether a is above b by any way.
	var over func(a, b engine.RuleID, deep int) bool
	over = func(a, b engine.RuleID, deep int) bool {
		require.Less(t, deep, int(engine.NumRules), "the way from %s to %s has a loop", a, b)
		for _, c := range engine.Causes(b) {
			if c == a || over(a, c, deep+1) {
				return true
			}
		}
		return false
	}
	for r := range engine.NumRules {
		if r != engine.Departure { // its causes are all others: checked above
			require.False(t, over(r, r, 0), "%s is its own cause", r)
		}
	}
}
