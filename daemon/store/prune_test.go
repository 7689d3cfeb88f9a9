package store

import (
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/frame"
)

// TestOldestAreThinnedFirst records far more than fits: the files stay within
// the limit, idle time goes before runs, quiet runs before those with
// incidents, buckets and events stay, and all is written down.
func TestOldestAreThinnedFirst(t *testing.T) {
	dir := t.TempDir()
	o := Options{
		TailBytes: 64 << 10, SealFrames: 400, HoldOff: time.Second,
		IncidentBefore: 10 * time.Second, IncidentAfter: 5 * time.Second,
	}
	s := open(t, dir, o)
	// The least that Options allow is more than a test should write.
	s.opts.MaxBytes = o.TailBytes + walBytes + 360<<10
	r := newRig(t)
	var ticks []*tick
	for round := range 24 {
		r.starve = 0
		if round%8 == 1 {
			r.starve = 150
		}
		more := r.take(1400)
		feed(t, s, r, more)
		ticks = append(ticks, more...)
		require.LessOrEqual(t, sizeOf(t, dir), s.opts.MaxBytes)
	}
	require.NoError(t, s.Sync())
	deletions, err := s.Deletions(ctx)
	require.NoError(t, err)
	require.NotEmpty(t, deletions)
	require.Equal(t, "oldest between runs", deletions[0].Why)
	rank := map[string]int{}
	for i := range pruneSteps {
		rank[pruneSteps[i].why] = i
	}
	bytes := int64(0)
	for _, d := range deletions {
		require.Equal(t, "frames", d.What)
		require.Less(t, rank[d.Why], 3, "incidents are kept: %s", d.Why)
		require.LessOrEqual(t, d.From, d.To)
		bytes += d.Bytes
	}
	require.Greater(t, bytes, int64(50<<10))

	checkKept(t, s, ticks)
	stats, err := s.Buckets(ctx, RunID{Boot: 1}, frame.InletPressure, 0, 0, 50)
	require.NoError(t, err)
	for _, b := range stats {
		require.Positive(t, b.Frames, "the buckets stay")
	}
	finding, err := s.Check(ctx)
	require.NoError(t, err)
	require.True(t, finding.OK(), "thinned by intent isn't damage")
	require.Positive(t, finding.Thinned)
	require.NoError(t, s.Close())
}

// checkKept compares what is left with what was put in.
func checkKept(t *testing.T, s *Store, ticks []*tick) {
	at := map[time.Duration]*tick{}
	for _, k := range ticks {
		at[k.t] = k
	}
	kept, thinned := map[time.Duration]bool{}, 0
	for k, err := range s.Frames(ctx, RunID{Boot: 1}, 0, 0) {
		var lost *LostError
		if errors.As(err, &lost) {
			require.True(t, lost.Thinned)
			thinned++
			continue
		}
		require.NoError(t, err)
		requireTick(t, at[k.T], &k)
		kept[k.T] = true
	}
	require.Positive(t, thinned)
	require.Less(t, len(kept), len(ticks))
	events, err := s.Events(ctx, RunID{Boot: 1})
	require.NoError(t, err)
	require.Len(t, events, transitions(ticks), "events stay")
	for i := range events {
		if e := &events[i]; e.Incident() {
			for _, k := range ticks {
				if k.t > e.T-s.opts.IncidentBefore && k.t < e.T+s.opts.IncidentAfter {
					require.True(t, kept[k.t], "%v lies around the incident at %v", k.t, e.T)
				}
			}
		}
	}
}

// sizeOf sums the files of a record.
func sizeOf(t require.TestingT, dir string) (sum int64) {
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, e := range entries {
		if info, err := e.Info(); err == nil && filepath.Ext(e.Name()) != ".db-shm" {
			sum += info.Size()
		}
	}
	return sum
}

// TestEvenIncidentsGoInTheEnd: the limit holds, whatever was pinned, and the
// counters of a boot outlive it.
func TestEvenIncidentsGoInTheEnd(t *testing.T) {
	dir := t.TempDir()
	r := newRig(t)
	for range 3 {
		s := open(t, dir, Options{TailBytes: 64 << 10, SealFrames: 300})
		feed(t, s, r, r.take(1500))
		require.NoError(t, s.Close())
	}
	s := open(t, dir, Options{TailBytes: 64 << 10})
	before, err := s.Life(ctx)
	require.NoError(t, err)
	s.opts.MaxBytes = s.opts.TailBytes + walBytes + 1
	require.NoError(t, s.prune(ctx))
	deletions, err := s.Deletions(ctx)
	require.NoError(t, err)
	what := map[string]int{}
	for _, d := range deletions {
		what[d.What]++
	}
	require.Equal(t, 3, what["boot"])
	require.Positive(t, what["buckets"])
	runs, err := s.ListRuns(ctx, 0)
	require.NoError(t, err)
	require.Empty(t, runs)
	after, err := s.Life(ctx)
	require.NoError(t, err)
	require.Equal(t, before, after)
	require.NoError(t, s.Close())
}

// TestMigrations: each step is all or nothing, a newer record is refused
// untouched.
func TestMigrations(t *testing.T) {
	path := filepath.Join(t.TempDir(), databaseName)
	db, err := openDatabase(path, false)
	require.NoError(t, err)
	defer db.Close()
	version := func() (at int) {
		require.NoError(t, db.QueryRow("PRAGMA user_version").Scan(&at))
		return at
	}
	steps := append([]string(nil), migrations...)
	require.NoError(t, migrate(ctx, db, steps, "1.0"))
	require.Equal(t, len(migrations), version())
	steps = append(steps, "CREATE TABLE more (x); CREATE TABLE state (x)")
	err = migrate(ctx, db, steps, "1.1")
	require.ErrorContains(t, err, "it is as before")
	require.Equal(t, len(migrations), version())
	require.ErrorIs(t, db.QueryRow("SELECT name FROM sqlite_schema WHERE name = 'more'").Scan(new(string)), sql.ErrNoRows)
	steps[len(steps)-1] = "CREATE TABLE more (x)"
	require.NoError(t, migrate(ctx, db, steps, "1.1"))
	require.Equal(t, len(steps), version())
	err = migrate(ctx, db, migrations, "1.0")
	require.ErrorContains(t, err, "update the program")
	require.Equal(t, len(steps), version())
	var by string
	require.NoError(t, db.QueryRow("SELECT software FROM version WHERE version = ?", len(steps)).Scan(&by))
	require.Equal(t, "1.1", by)

	dir := t.TempDir()
	require.NoError(t, open(t, dir, Options{}).Close())
	db2, err := openDatabase(filepath.Join(dir, databaseName), false)
	require.NoError(t, err)
	_, err = db2.Exec("PRAGMA user_version = 99")
	require.NoError(t, err)
	require.NoError(t, db2.Close())
	_, err = Open(dir, Options{})
	require.ErrorContains(t, err, "newer program")
	require.NoFileExists(t, filepath.Join(dir, databaseName+".damaged-1"))
}
