package store

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/machine"
)

var foreign = Source{Name: "logger.csv", SHA256: "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"}

func importer(t *testing.T, ticks []*tick) *Importer {
	info := testInfo
	info.Source = foreign
	m, err := NewImporter(Options{Info: info, SealFrames: 900, HoldOff: 5 * time.Second})
	require.NoError(t, err)
	for i, k := range ticks {
		require.NoError(t, m.Append(k.t, k.wall, &k.raw, &k.v, &k.totals))
		if i == 100 {
			m.Act(Act{T: k.t, Who: "P. Example", What: "note"})
		}
	}
	return m
}

// TestAnImportedBootIsLikeOneThatWasRecorded, while another program records,
// and counts for nobody's life.
func TestAnImportedBootIsLikeOneThatWasRecorded(t *testing.T) {
	dir := t.TempDir()
	r := newRig(t)
	s := open(t, dir, Options{SealFrames: 300})
	own := r.take(500)
	feed(t, s, r, own)
	before, err := s.Life(ctx)
	require.NoError(t, err)
	other := newRig(t)
	ticks := other.take(5000)
	boot, err := importer(t, ticks).Commit(ctx, dir)
	require.NoError(t, err)
	require.EqualValues(t, 2, boot)
	more := r.take(500)
	feed(t, s, r, more)
	require.NoError(t, s.Close())

	s = open(t, dir, Options{})
	require.EqualValues(t, 3, s.Boot())
	requireFrames(t, &s.view, 1, append(own, more...))
	requireFrames(t, &s.view, 2, ticks)
	requireSame(t, &s.view, 2, ticks)
	runs, err := s.ListRuns(ctx, 0)
	require.NoError(t, err)
	imported := 0
	for _, run := range runs {
		require.Equal(t, run.ID.Boot == 2, run.Source.Imported())
		if run.ID.Boot == 2 {
			require.Equal(t, foreign, run.Source)
			require.Positive(t, run.Summary.Sums.InStateS[machine.Running.String()])
			imported++
		}
	}
	require.Greater(t, imported, 3)
	events, err := s.Events(ctx, RunID{Boot: 2})
	require.NoError(t, err)
	require.Len(t, events, transitions(ticks))
	require.EqualValues(t, 2, events[0].Boot)
	acts, err := s.Acts(ctx, RunID{Boot: 2})
	require.NoError(t, err)
	require.Equal(t, []Act{{Boot: 2, N: 1, T: ticks[100].t, Who: "P. Example", What: "note"}}, acts)
	after, err := s.Life(ctx)
	require.NoError(t, err)
	require.EqualValues(t, 1000, after.Frames, "the imported frames don't count")
	require.Less(t, before.Frames, after.Frames)
	require.NoError(t, s.Close())
	v := verified(t, dir)
	require.True(t, v.OK(), "%v", v.Breaks)
}

func TestImportsThatCantBe(t *testing.T) {
	_, err := NewImporter(Options{Info: testInfo})
	require.ErrorContains(t, err, "from nowhere")
	_, err = importer(t, nil).Commit(ctx, t.TempDir())
	require.ErrorContains(t, err, "without frames")
	dir := t.TempDir()
	chainedRecord(t, dir)
	flip(t, filepath.Join(dir, databaseName), 3)
	_, err = importer(t, newRig(t).take(10)).Commit(ctx, dir)
	require.ErrorIs(t, err, errDamaged, "nothing is put aside under another program's hands")
	s := open(t, t.TempDir(), Options{Info: Info{Source: foreign, Software: "x"}})
	boots, err := s.Boots(ctx)
	require.NoError(t, err)
	require.False(t, boots[0].Source.Imported(), "what is recorded here is not imported")
	require.NoError(t, s.Close())
}

// TestTheLifeSurvivesAStoreReset by export, in every order, and never doubles.
func TestTheLifeSurvivesAStoreReset(t *testing.T) {
	old := t.TempDir()
	r := newRig(t)
	s := open(t, old, Options{})
	feed(t, s, r, r.take(400))
	early, err := s.LifeParts(ctx)
	require.NoError(t, err)
	feed(t, s, r, r.take(600))
	late, err := s.LifeParts(ctx)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	require.Greater(t, late[0].Sums.Frames, early[0].Sums.Frames)

	for _, order := range [][][]LifeOf{{early, late}, {late, early}, {late}, {late, late, early, late}} {
		dir := t.TempDir()
		s := open(t, dir, Options{})
		feed(t, s, nil, newRig(t).take(50))
		for _, parts := range order {
			text, err := EncodeLife(parts, nil)
			require.NoError(t, err)
			file, err := DecodeLife(text)
			require.NoError(t, err)
			_, err = ImportLife(ctx, dir, file.Parts, "0.0.0-test")
			require.NoError(t, err)
		}
		life, err := s.Life(ctx)
		require.NoError(t, err)
		require.Equal(t, late[0].Sums.WaterM3, life.WaterM3)
		parts, err := s.LifeParts(ctx)
		require.NoError(t, err)
		require.Len(t, parts, 2)
		require.Equal(t, late[0], parts[1])
		require.NoError(t, s.Close())
		v := verified(t, dir)
		require.True(t, v.OK(), "%v", v.Breaks)

		// Back into the old one, as when it was found again: nothing doubles.
		taken, err := ImportLife(ctx, old, parts, "0.0.0-test")
		require.NoError(t, err)
		require.Empty(t, taken[0].Why)
		require.Equal(t, "this record counted it itself", taken[1].Why)
	}
}

func TestLifeFilesAreChecked(t *testing.T) {
	text, err := EncodeLife([]LifeOf{{Record: "0011223344556677", Machine: "invented", Sums: Sums{Frames: 12, WaterM3: 1.5}}}, []byte(`{"entries":  [1, 2]}`))
	require.NoError(t, err)
	file, err := DecodeLife(text)
	require.NoError(t, err)
	require.JSONEq(t, `{"entries":[1,2]}`, string(file.Book))
	for want, bad := range map[string]string{
		"no file of counters":           "{",
		"one of a newer program":        `{"format":"headroom life counters 2"}`,
		"its checksum is wrong":         replaced(t, string(text), "1.5", "9.5"),
		"its checksum is wrong: it was": replaced(t, string(text), "invented", "invent3d"),
		"it was changed or damaged":     replaced(t, string(text), "2\n", "3\n"),
	} {
		_, err := DecodeLife([]byte(bad))
		require.ErrorContains(t, err, want)
	}
	for _, l := range []LifeOf{{}, {Record: "x", Sums: Sums{WaterM3: -1}}, {Record: "x", Sums: Sums{InStateS: map[string]float64{"running": -1}}}} {
		text, err := EncodeLife([]LifeOf{l}, nil)
		require.NoError(t, err)
		_, err = DecodeLife(text)
		require.Error(t, err)
	}
}

func FuzzDecodeLife(f *testing.F) {
	text, err := EncodeLife([]LifeOf{{Record: "0011223344556677", Sums: Sums{Frames: 12}}}, nil)
	require.NoError(f, err)
	f.Add(text)
	f.Fuzz(func(t *testing.T, b []byte) {
		if file, err := DecodeLife(b); err == nil {
			again, err := EncodeLife(file.Parts, file.Book)
			require.NoError(t, err)
			_, err = DecodeLife(again)
			require.NoError(t, err)
		}
	})
}

// flip damages one byte of a file.
func flip(t *testing.T, path string, at int) {
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	b[at] ^= 0x55
	require.NoError(t, os.WriteFile(path, b, 0o644))
}

// replaced makes sure that the text was there.
func replaced(t *testing.T, s, old, new string) string {
	require.Contains(t, s, old)
	return strings.Replace(s, old, new, 1)
}
