package store

import (
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// zeroTable wipes the first page of a table, as a bad sector does. The pages
// are numbered from 1.
func zeroTable(t *testing.T, dir, table string) {
	path := filepath.Join(dir, databaseName)
	db, err := sql.Open("sqlite", path)
	require.NoError(t, err)
	var page int64
	require.NoError(t, db.QueryRow("SELECT rootpage FROM sqlite_master WHERE name = ?", table).Scan(&page))
	require.NoError(t, db.Close())
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	require.NoError(t, err)
	_, err = f.WriteAt(make([]byte, pageBytes), (page-1)*pageBytes)
	require.NoError(t, errors.Join(err, f.Close()))
}

// TestRecordingGoesOnWithoutAnyOneTable: whichever table a bad page takes, what
// is left of the others must neither stop what is recorded from then on nor mix
// with it.
func TestRecordingGoesOnWithoutAnyOneTable(t *testing.T) {
	base := t.TempDir()
	s := open(t, base, Options{SealFrames: 50})
	r := newRig(t)
	feed(t, s, r, r.take(600))
	_, err := s.Act(Act{T: r.at, What: "note"})
	require.NoError(t, errors.Join(err, s.Close()))
	for _, table := range append([]string{"state"}, tables[:]...) {
		for _, lost := range []string{"", " and the tail"} { // which would say what boot was the last
			t.Run(table+lost, func(t *testing.T) {
				dir := t.TempDir()
				copyDir(t, base, dir)
				zeroTable(t, dir, table)
				if lost != "" {
					require.NoError(t, os.Remove(filepath.Join(dir, tailName)))
				}
				for boot := uint64(2); boot < 4; boot++ {
					s := open(t, dir, Options{SealFrames: 50})
					require.Equal(t, boot, s.Boot(), "no number is given twice")
					r := newRig(t)
					ticks := r.take(300)
					feed(t, s, r, ticks)
					require.Empty(t, s.Health().SealError)
					requireFrames(t, &s.view, boot, ticks)
					require.NoError(t, s.Close())
				}
			})
		}
	}
}
