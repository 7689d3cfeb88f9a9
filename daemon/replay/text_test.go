package replay

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/units"
)

// What rests on an assumption is marked where it is told, and a class of danger
// is not told as a time that somebody worked out.
func TestAssumptionsAreMarked(t *testing.T) {
	for _, c := range []struct {
		tr        engine.Transition
		want, not string
	}{
		{engine.Transition{Alarm: engine.ActAlarm(engine.Frost), Raised: true, Assumed: true, Value: 1800, Limit: 1800}, "near freezing; how long it takes isn't known", "30 min"},
		{engine.Transition{Alarm: engine.ActAlarm(engine.Frost), Raised: true, Value: 1200, Limit: 1800}, "(20 min 00 s, limit 30 min 00 s)", "known"},
	} {
		var b strings.Builder
		NewText(&b, units.SI).Transition(c.tr, time.Time{})
		require.Contains(t, b.String(), c.want)
		require.NotContains(t, b.String(), c.not)
	}
	for _, assumed := range []float64{0, 2} {
		var b strings.Builder
		s := &Summary{}
		s.Totals.Exposures[engine.MotorVoltage] = engine.Exposure{WatchedS: 3, AssumedS: assumed}
		require.NoError(t, NewText(&b, units.SI).Summary(s))
		require.Equal(t, assumed > 0, strings.Contains(b.String(), "Voltage at the motor *"))
		require.Equal(t, assumed > 0, strings.Contains(b.String(), "* at times on a figure that was assumed"))
	}
}
