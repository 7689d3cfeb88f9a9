package store

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// TestPracticeIsNobodysLife: what a simulator or a recording did is kept and
// said, and counts only for itself.
func TestPracticeIsNobodysLife(t *testing.T) {
	dir := t.TempDir()
	r := newRig(t)
	count := map[Readings]int{FromSensors: 700, FromSimulator: 900, FromPlayback: 400, NotTold: 300}
	for _, from := range []Readings{FromSimulator, FromSensors, FromPlayback, NotTold} {
		info := testInfo
		info.Source.Readings = from
		s := open(t, dir, Options{Info: info, SealFrames: 200})
		ticks := newRig(t).take(count[from])
		feed(t, s, r, ticks)
		require.NoError(t, s.Close())
	}
	s := open(t, dir, Options{})
	life, err := s.Life(ctx)
	require.NoError(t, err)
	practice, err := s.Practice(ctx)
	require.NoError(t, err)
	require.EqualValues(t, 700+300, life.Frames, "an earlier version's record counts as it did")
	require.EqualValues(t, 900+400, practice.Frames)
	boots, err := s.Boots(ctx)
	require.NoError(t, err)
	require.Equal(t, FromSimulator, boots[0].Source.Readings)
	runs, err := s.ListRuns(ctx, 0)
	require.NoError(t, err)
	for i := range runs {
		if runs[i].ID.Boot <= 3 {
			require.Equal(t, boots[runs[i].ID.Boot-1].Source, runs[i].Source)
		}
	}
	require.NoError(t, s.Close())
	v := verified(t, dir)
	require.True(t, v.OK(), "%v", v.Breaks)
}

func TestSourceInWords(t *testing.T) {
	for _, x := range []struct {
		s           Source
		short, band string
		counts      bool
	}{
		{Source{}, "not told", "", true},
		{Source{Readings: FromSensors}, "sensors", "", true},
		{Source{Readings: FromSimulator}, "SIMULATED", "practice only", false},
		{Source{Readings: FromPlayback}, "PLAYED BACK", "practice only", false},
		{Source{Name: "a.csv"}, "imported", "IMPORTED from a.csv", false},
		{Source{Name: "a.csv", Readings: FromSimulator}, "SIMULATED, imported", "Imported from a.csv", false},
		{Source{Name: "a.csv", Readings: FromSensors}, "sensors, imported", "recorded elsewhere", false},
	} {
		require.Equal(t, x.short, x.s.Short())
		require.Equal(t, x.counts, x.s.Counts(), "%+v", x.s)
		if x.band == "" {
			require.Empty(t, x.s.Band())
		} else {
			require.Contains(t, x.s.Band(), x.band)
		}
		text, err := x.s.text()
		require.NoError(t, err)
		require.Equal(t, x.s, sourceOf(text))
	}
}
