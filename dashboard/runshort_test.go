package dashboard

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/review"
	"headroom/daemon/store"
	"headroom/rules/engine"
)

// The lines on top say what is in the account and nothing else.
func TestRunInShort(t *testing.T) {
	calm := &review.Account{}
	require.Equal(t, []string{"No alarm came up in what was recorded."}, inShort(calm))
	calm.Summary.Limits = []review.LimitSum{{Rule: engine.WaterHot, ExposureSums: store.ExposureSums{BlindS: 9}}}
	require.Equal(t, []string{"No alarm came up in what was recorded. Not judged all the time: water temperature."}, inShort(calm))

	bad := &review.Account{Sentences: []review.Sentence{{Kind: review.KindRanOn}}}
	bad.Summary.Alarms = []review.AlarmLife{
		{Name: "inlet_low.warn", Title: "Inlet pressure is getting low", Level: engine.Warning, First: true, Raised: 65 * time.Second},
		{Name: "inlet_low.act", Title: "Pump is starving", Level: engine.Act, Raised: 70 * time.Second, HasAck: true, AckedBy: "Ada"},
	}
	bad.Summary.Limits = []review.LimitSum{{Rule: engine.InletLow, ExposureSums: store.ExposureSums{BeyondActS: 12}}, {Rule: engine.FlowShort, ExposureSums: store.ExposureSums{BeyondActS: 75}}}
	short := strings.Join(inShort(bad), "\n")
	for _, want := range []string{
		"It began with “Inlet pressure is getting low” (warning), 1 min 05", "1 alarm asked to act at once, 1 of a lower level came too; acknowledged: 1 of 2.",
		"Longest beyond its limit: flow against need, 1 min 15 s in all.", "The pump ran on after 1 alarm that asked to act at once.",
	} {
		require.Contains(t, short, want)
	}
	bad.Summary.Limits, bad.Sentences = nil, nil
	short = strings.Join(inShort(bad), "\n")
	require.NotContains(t, short, "Longest", "what isn't summed up yet isn't told")
	require.NotContains(t, short, "ran on")
}

// A bad day's account is folded, but never what somebody came to see.
func TestLongAccountsAreFolded(t *testing.T) {
	rows := make([]toldRow, 300)
	open, further := foldRows(rows[:25])
	require.Len(t, open, 25)
	require.Empty(t, further)
	open, further = foldRows(rows)
	require.Len(t, open, 20)
	require.Len(t, further, 280)
	rows[99].Chosen = true
	open, further = foldRows(rows)
	require.Len(t, open, 100)
	require.Len(t, further, 200)
}

func TestRunPageBeginsWithWhatMatters(t *testing.T) {
	s, _ := morning(t)
	page := text(t, get(t, s.handler(), "/runs/1.1"))
	at := func(what string) int {
		i := strings.Index(page, what)
		require.GreaterOrEqual(t, i, 0, what)
		return i
	}
	require.Less(t, at("<h2>In short</h2>"), at(`<h2 id="chart">`))
	require.Less(t, at("<h2>Alarms</h2>"), at("<h2>What happened</h2>"))
	require.Contains(t, page, "It began with")
}
