package snapshot_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/daemon/snapshot"
	"headroom/rules/alarm"
	"headroom/rules/engine"
)

// What was written down comes back, and writing it once more gives the same
// text: a restored state is the same however often it went through a file.
func TestKeptAlarmsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var k snapshot.Kept
		for range rapid.IntRange(0, 6).Draw(t, "alarms") {
			id := rapid.IntRange(0, engine.NumAlarms-1).Draw(t, "alarm")
			k[id] = engine.Kept{
				Active: rapid.Bool().Draw(t, "active"), Level: engine.Level(rapid.IntRange(0, 3).Draw(t, "level")),
				Life: alarm.Kept{
					Base: alarm.Phase(rapid.IntRange(0, int(alarm.LatchedAcknowledged)).Draw(t, "phase")),
					Out:  rapid.Bool().Draw(t, "out"), Shelved: true,
					ShelfLeft: time.Duration(rapid.Int64Range(0, int64(alarm.MaxShelf)).Draw(t, "left")),
				},
			}
		}
		text, err := snapshot.EncodeKept(&k)
		require.NoError(t, err)
		got, err := snapshot.DecodeKept(text)
		require.NoError(t, err)
		require.Equal(t, k, got)
		again, err := snapshot.EncodeKept(&got)
		require.NoError(t, err)
		require.Equal(t, string(text), string(again))
	})
}

func TestKeptAlarmsOfAnotherVersionAreLeftNormal(t *testing.T) {
	k, err := snapshot.DecodeKept([]byte(`[{"alarm":"from_tomorrow.act","phase":"acknowledged"},
		{"alarm":"inlet_low.act","phase":"dancing"}, {"alarm":"flow_short.act","phase":"normal","shelved":true,"shelf_left_s":1e30},
		{"alarm":"water_hot.act","phase":"acknowledged","active":true,"level":3}]`))
	require.NoError(t, err)
	var want snapshot.Kept
	want[engine.ActAlarm(engine.WaterHot)] = engine.Kept{Active: true, Level: engine.Act, Life: alarm.Kept{Base: alarm.Acknowledged}}
	require.Equal(t, want, k)
}

func FuzzDecodeKept(f *testing.F) {
	f.Add([]byte(`[{"alarm":"water_hot.act","phase":"acknowledged","shelf_left_s":12.5}]`))
	f.Add([]byte(`[`))
	f.Fuzz(func(t *testing.T, data []byte) {
		k, err := snapshot.DecodeKept(data)
		if err != nil {
			return
		}
		var s engine.State
		s.Restore(&k) // takes whatever it is given
	})
}
