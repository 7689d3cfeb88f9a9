package service_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/service"
	"headroom/rules/wear"
)

func TestCountsAcrossRestarts(t *testing.T) {
	dir := t.TempDir()
	for range 3 { // three days out: 100 s at rest, 600 s of work with one pause
		m, err := service.NewMeter(dir)
		require.NoError(t, err)
		saves := 0
		for s := 0; s <= 700; s++ {
			turning := s > 100 && (s < 300 || s > 320)
			if m.Follow(time.Duration(s)*time.Second, turning) {
				saves++
				require.NoError(t, m.Save())
			}
		}
		require.NoError(t, m.Save())
		require.LessOrEqual(t, saves, 5, "the card is spared")
	}
	b, err := service.Load(dir)
	require.NoError(t, err)
	require.InDelta(t, 3*579, b.Counters.RunS, 3)
	require.EqualValues(t, 6, b.Counters.Starts)
	require.EqualValues(t, 3, b.Counters.Uses)
}

func TestDueFollowsTheIntervals(t *testing.T) {
	iv := wear.DefaultIntervals()
	b := service.Book{Counters: wear.Counters{RunS: 49 * 3600, Starts: 100, Uses: 20}}
	due := b.Due(&iv)
	require.Equal(t, wear.DueSoon, due[wear.TaskOilChange].Status, "the first oil change is due at 50 h: common practice, no source")
	b.Done(wear.TaskOilChange, time.Now(), "bench", "")
	b.Counters.RunS = 300 * 3600
	require.Equal(t, wear.DueOK, b.Due(&iv)[wear.TaskOilChange].Status)
	b.Counters.RunS = 349 * 3600
	require.Equal(t, wear.DueNow, b.Due(&iv)[wear.TaskOilChange].Status)
}

func TestDamagedBookIsNamedAndLeftAlone(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "service.json")
	require.NoError(t, os.WriteFile(path, []byte("{"), 0o644))
	_, err := service.Load(dir)
	require.ErrorContains(t, err, path)
	_, err = service.NewMeter(dir)
	require.Error(t, err)
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, "{", string(data))
}

func TestEntriesOfAnotherProgramAreKept(t *testing.T) {
	dir := t.TempDir()
	m, err := service.NewMeter(dir)
	require.NoError(t, err)
	other, err := service.Load(dir)
	require.NoError(t, err)
	other.Done(wear.TaskValves, time.Now(), "shop", "new seats")
	require.NoError(t, other.Save(dir))
	m.Follow(0, false)
	m.Follow(time.Second, true)
	require.NoError(t, m.Save())
	b, err := service.Load(dir)
	require.NoError(t, err)
	require.Len(t, b.Entries, 1)
	require.EqualValues(t, 1, b.Counters.Starts)
}
