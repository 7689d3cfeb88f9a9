package review

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/review/recordtest"
	"headroom/rules/alarm"
	"headroom/rules/units"
)

// TestOneTapAcknowledgesWhatStoodUnderIt: the person saw one alarm with its
// consequences and tapped once; the account must not say that they saw one of
// seven. Source: what acknowledging does to consequences, package engine.
func TestOneTapAcknowledgesWhatStoodUnderIt(t *testing.T) {
	const tap = 100 * time.Second
	for _, act := range []alarm.Act{alarm.Acknowledge, alarm.Shelve} {
		r := read(t, recordtest.Play(t, script{Scenario: "kinked_hose", Acts: []deed{
			{At: tap, Alarm: "inlet_low.act", Act: act, Who: "Kim", Shelf: time.Hour},
		}}))
		a := latest(t, r)
		under := 0
		for _, l := range a.Summary.Alarms {
			stood := l.Raised < tap && (!l.HasGone || l.Gone > tap)
			// The milder stage came first, by itself; a stage stands under its own stronger one.
			if stood && (l.Name == "inlet_low.act" || l.Name == "inlet_low.warn" || l.Under == "inlet_low.act") {
				under++
				require.Equal(t, act == alarm.Acknowledge, l.HasAck, "%v: %s", act, l.Name)
			} else {
				require.False(t, l.HasAck, "nobody saw %+v", l)
			}
		}
		require.Greater(t, under, 2, "the script's kink has consequences")
		told := ""
		for i := range a.Sentences {
			if a.Sentences[i].Kind == KindAct {
				told += a.Sentences[i].Text(units.SI)
			}
		}
		require.Contains(t, told, ", and with it "+plural(under-1, "other alarm", "others"))
		requireTrue(t, r, a)
	}
}
