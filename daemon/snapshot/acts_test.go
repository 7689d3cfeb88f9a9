package snapshot_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/snapshot"
	"headroom/rules/alarm"
	"headroom/rules/engine"
)

func TestActsAreNumberedKeptAndCounted(t *testing.T) {
	st := snapshot.NewStore()
	require.Empty(t, st.Acts(0))
	st.NoteAct(snapshot.ActEvent{ID: 99, Who: "Ada", Did: engine.Did{Act: alarm.Acknowledge}})
	st.NoteAct(snapshot.ActEvent{Who: "Ben", Did: engine.Did{Act: alarm.Reset}})
	acts := st.Acts(0)
	require.Len(t, acts, 2)
	require.EqualValues(t, 1, acts[0].ID, "the store numbers them itself")
	require.Equal(t, "Ben", st.Acts(1)[0].Who)
	require.Empty(t, st.Acts(2))

	acts[0].Who = "changed"
	require.Equal(t, "Ada", st.Acts(0)[0].Who, "a reader has a copy")

	for range 600 {
		st.NoteAct(snapshot.ActEvent{Did: engine.Did{Act: alarm.Shelve}})
	}
	st.NoteAct(snapshot.ActEvent{Did: engine.Did{Act: alarm.NumActs}})
	require.Len(t, st.Acts(0), 500, "old ones are forgotten")
	require.EqualValues(t, 603, st.Acts(602)[0].ID, "and no number is used twice")
	require.Equal(t, [alarm.NumActs]uint64{alarm.Acknowledge: 1, alarm.Reset: 1, alarm.Shelve: 600}, st.ActTotals(), "but they stay counted")
}
