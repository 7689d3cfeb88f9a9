package store

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// chained records two boots with a power cut between, acts, observations and
// thinning, and closes.
func chainedRecord(t require.TestingT, dir string) {
	r := newRig(t)
	s := open(t, dir, Options{SealFrames: 150, HoldOff: 5 * time.Second})
	feed(t, s, r, r.take(900))
	_, err := s.Act(Act{T: r.at, Who: "P. Example", What: "acknowledge", Alarm: "inlet_low.warn"})
	require.NoError(t, err)
	drop(t, s)
	info := testInfo
	info.Kept = []byte(`[{"alarm":"invented"}]`)
	s = open(t, dir, Options{Info: info, SealFrames: 150, HoldOff: 5 * time.Second})
	feed(t, s, r, r.take(600))
	require.NoError(t, s.NoteClock(Observation{Boot: 1, T: time.Second, Wall: startWall, Trust: Synced}))
	thin(t, s, 2)
	require.NoError(t, s.Close())
}

// thin deletes the frames of n blocks as a full record does.
func thin(t require.TestingT, s *Store, n int) {
	require.NoError(t, inTx(ctx, s.w, func(tx *sql.Tx) error {
		l, err := newLinker(ctx, tx)
		for range n {
			freed, e := s.pruneOne(ctx, tx, l)
			err = errors.Join(err, e)
			require.Positive(t, freed)
		}
		return errors.Join(err, l.end(ctx, LinkDeletions, s.boot))
	}))
}

func verified(t require.TestingT, dir string) Verified {
	rd, err := OpenReader(dir)
	require.NoError(t, err)
	v, err := rd.VerifyChain(ctx)
	require.NoError(t, errors.Join(err, rd.Close()))
	return v
}

func TestTheChainVouchesForAll(t *testing.T) {
	dir := t.TempDir()
	chainedRecord(t, dir)
	v := verified(t, dir)
	require.True(t, v.OK(), "%v", v.Breaks)
	require.Equal(t, 2, v.Thinned)
	require.Zero(t, v.Before)
	require.Len(t, v.Record, 16)
	rd, err := OpenReader(dir)
	require.NoError(t, err)
	defer rd.Close()
	for kind := LinkBegin; kind < LinkLife; kind++ {
		var n int
		require.NoError(t, rd.db.QueryRow("SELECT count(*) FROM chain WHERE kind = ?", kind).Scan(&n))
		require.Positive(t, n, "no link of kind %v: nothing is proved of it", kind)
	}
	boots, err := rd.Boots(ctx)
	require.NoError(t, err)
	require.Empty(t, boots[0].Kept)
	require.Equal(t, `[{"alarm":"invented"}]`, string(boots[1].Kept))

	c, err := rd.Chain(ctx, RunID{Boot: 1, N: 1})
	require.NoError(t, err)
	require.True(t, c.Whole)
	require.Equal(t, v.Record, c.Record)
	h, err := ParseHead(c.Head.String())
	require.NoError(t, err)
	require.NoError(t, rd.Matches(ctx, h))
	h.Hash[5] ^= 1
	require.ErrorIs(t, rd.Matches(ctx, h), ErrOtherRecord)
	require.ErrorIs(t, rd.Matches(ctx, Head{Pos: 1 << 40}), ErrOtherRecord)
	_, err = rd.Chain(ctx, RunID{Boot: 99})
	require.ErrorIs(t, err, ErrNoChain)
	for _, bad := range []string{"", "1", "1:", "x:00", "1:zz", "-1:" + h.Hash.String()} {
		_, err := ParseHead(bad)
		require.ErrorContains(t, err, "no head of a chain", bad)
	}
}

// TestALinkIsWhatTheDocSays makes the newest link of acts from nothing but the
// words at the top of chain.go.
func TestALinkIsWhatTheDocSays(t *testing.T) {
	dir := t.TempDir()
	chainedRecord(t, dir)
	db, err := openDatabase(filepath.Join(dir, databaseName), true)
	require.NoError(t, err)
	defer db.Close()
	var pos, boot, n, at int64
	var data []byte
	require.NoError(t, db.QueryRow("SELECT link, boot, n, t, data FROM act").Scan(&pos, &boot, &n, &at, &data))
	number := func(b []byte, xs ...int64) []byte {
		for _, x := range xs {
			b = binary.BigEndian.AppendUint64(b, uint64(x))
		}
		return b
	}
	row := number([]byte("i"), boot)
	row = number(append(row, 'i'), n)
	row = number(append(row, 'i'), at)
	row = append(number(append(row, 's'), int64(len(data))), data...)
	one := sha256.Sum256(row)
	content := sha256.Sum256(one[:])
	var before, head []byte
	require.NoError(t, db.QueryRow("SELECT head FROM chain WHERE pos = ?", pos-1).Scan(&before))
	require.NoError(t, db.QueryRow("SELECT head FROM chain WHERE pos = ?", pos).Scan(&head))
	link := append(append([]byte(nil), before...), "headroom link 1\n"...)
	link = append(number(link, pos, 6, boot, at, at, 1), content[:]...)
	want := sha256.Sum256(link)
	require.Equal(t, want[:], head)
}

func TestTamperingIsFound(t *testing.T) {
	whole := t.TempDir()
	chainedRecord(t, whole)
	for name, c := range map[string]struct {
		sql  string
		kind LinkKind
		boot uint64
		why  string
	}{
		"event changed":        {"UPDATE event SET data = replace(data, 'warning', 'advice') WHERE rowid = 3", LinkEvents, 1, "not what it vouches for"},
		"event deleted":        {"DELETE FROM event WHERE rowid = 3", LinkEvents, 1, "vouches for"},
		"event added":          {"INSERT INTO event SELECT boot, t + 1, alarm, raised, incident, data, sum, link FROM event LIMIT 1", LinkEvents, 1, "vouches for"},
		"event slipped in":     {"INSERT INTO event SELECT boot, t + 1, alarm, raised, incident, data, sum, 0 FROM event LIMIT 1", LinkEvents, 1, "no link vouches for 1"},
		"event from nowhere":   {"INSERT INTO event SELECT boot, t + 1, alarm, raised, incident, data, sum, 99999 FROM event LIMIT 1", LinkEvents, 1, "no link vouches for 1"},
		"all events deleted":   {"DELETE FROM event WHERE boot = 2", LinkEvents, 2, "gone, and no deletion says so"},
		"act changed":          {"UPDATE act SET data = replace(data, 'Example', 'Nobody')", LinkActs, 1, "not what it vouches for"},
		"act moved":            {"UPDATE act SET t = t - 1000000000", LinkActs, 1, "not what it vouches for"},
		"config changed":       {"UPDATE config SET text = '# other'", LinkConfig, 1, "not what it vouches for"},
		"start state changed":  {"UPDATE boot SET kept = NULL WHERE boot = 2", LinkBoot, 2, "not what it vouches for"},
		"software changed":     {"UPDATE boot SET software = '9' WHERE boot = 1", LinkBoot, 1, "not what it vouches for"},
		"frames moved":         {"UPDATE block SET t1 = t1 + 1 WHERE boot = 2", LinkFrames, 2, "not what it vouches for"},
		"frames deleted":       {"DELETE FROM block_data WHERE block = (SELECT max(id) FROM block)", LinkFrames, 2, "the frames are gone, and no deletion says so"},
		"frames flipped":       {"UPDATE block_data SET data = zeroblob(100) WHERE block = (SELECT max(id) FROM block)", LinkFrames, 2, "the frames are not what was sealed"},
		"buckets flipped":      {"UPDATE brief SET data = zeroblob(100) WHERE block = (SELECT max(id) FROM block)", LinkFrames, 2, "the buckets beside the frames are not"},
		"digest changed":       {"UPDATE digest SET sum = zeroblob(32) WHERE boot = 2", LinkVerdicts, 2, "not what it vouches for"},
		"run shortened":        {"UPDATE run SET t1 = t1 - 5000000000 WHERE boot = 1 AND n = 1", LinkRuns, 1, "not what it vouches for"},
		"deletion hidden":      {"DELETE FROM deletion", LinkDeletions, 2, "gone, and no deletion says so"},
		"time changed":         {"UPDATE clock SET wall = wall + 3600000000000 WHERE boot = 1 AND trust = 2", LinkClock, 1, "not what it vouches for"},
		"link changed":         {"UPDATE chain SET n = n + 1 WHERE kind = 5 AND boot = 1", LinkEvents, 1, "doesn't follow"},
		"link deleted":         {"DELETE FROM chain WHERE pos = 4", LinkFrames, 1, "links 4 to 4 are missing"},
		"newest links deleted": {"DELETE FROM chain WHERE boot = 2", LinkEvents, 2, "no link vouches"},
		"beginning changed":    {"UPDATE chain SET content = zeroblob(32) WHERE pos = 0", LinkBoot, 1, "doesn't follow"},
	} {
		t.Run(name, func(t *testing.T) {
			v := tampered(t, whole, c.sql)
			require.False(t, v.OK())
			var words string
			for _, b := range v.Breaks {
				words += b.String() + "\n"
			}
			for _, b := range v.Breaks {
				if b.Boot == c.boot && (b.Kind == c.kind || name == "link deleted") && bytes.Contains([]byte(b.Why), []byte(c.why)) {
					return
				}
			}
			require.Fail(t, "not told as it should be", words)
		})
	}
}

func copyRecord(t require.TestingT, from, to string) {
	for _, name := range []string{databaseName, tailName} {
		b, err := os.ReadFile(filepath.Join(from, name))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(to, name), b, 0o644))
	}
}

// tampered verifies a copy of a record after some SQL.
func tampered(t *testing.T, whole, ask string) Verified {
	dir := t.TempDir()
	copyRecord(t, whole, dir)
	db, err := openDatabase(filepath.Join(dir, databaseName), false)
	require.NoError(t, err)
	res, err := db.Exec(ask)
	require.NoError(t, err)
	n, err := res.RowsAffected()
	require.NoError(t, err)
	require.Positive(t, n, "the case changes nothing")
	require.NoError(t, db.Close())
	return verified(t, dir)
}

// TestAnyColumnThatIsChangedIsFound changes one column of one row of what the
// chain vouches for.
func TestAnyColumnThatIsChangedIsFound(t *testing.T) {
	whole := t.TempDir()
	chainedRecord(t, whole)
	db, err := openDatabase(filepath.Join(whole, databaseName), false)
	require.NoError(t, err)
	defer db.Close()
	v := &view{db: db}
	columns := map[string][]string{
		"event": {"boot", "t", "alarm", "raised", "data", "link"}, "act": {"boot", "n", "t", "data", "link"},
		"block": {"t0", "t1", "frames", "channels", "run", "proof", "link"}, "digest": {"t0", "t1", "frames", "sum", "link"},
		"boot": {"software", "config", "machine", "wall", "source", "link"}, "deletion": {"what", "boot", "t0", "t1", "bytes", "why", "link"},
		"chain": {"kind", "boot", "t0", "t1", "n", "content", "head"}, "run": {"t0", "t1", "summary", "link"},
	}
	rapid.Check(t, func(t *rapid.T) {
		_, err := db.Exec("SAVEPOINT whole")
		require.NoError(t, err)
		defer func() {
			_, err := db.Exec("ROLLBACK TO whole; RELEASE whole")
			require.NoError(t, err)
		}()
		table := rapid.SampledFrom([]string{"event", "act", "block", "digest", "boot", "deletion", "chain", "run"}).Draw(t, "table")
		column := rapid.SampledFrom(columns[table]).Draw(t, "column")
		ask := fmt.Sprintf("UPDATE %s SET %s = CASE typeof(%s) WHEN 'integer' THEN %s + 1 WHEN 'null' THEN 1 ELSE %s || 'x' END", table, column, column, column, column)
		key := "rowid"
		if table == "digest" {
			key = "t0"
		}
		where := ""
		switch table {
		case "chain":
			where = "WHERE pos > 0 AND rowid < (SELECT max(pos) FROM chain)"
		case "run":
			where = "WHERE ended <> ''"
		}
		var rows int
		require.NoError(t, db.QueryRow("SELECT count(*) FROM "+table+" "+where).Scan(&rows))
		row := rapid.IntRange(0, rows-1).Draw(t, "row")
		res, err := db.Exec(fmt.Sprintf("%s WHERE %s = (SELECT %s FROM %s %s LIMIT 1 OFFSET %d)", ask, key, key, table, where, row))
		if err != nil {
			return // the table's own rules forbid it
		}
		changed, err := res.RowsAffected()
		require.NoError(t, err)
		require.EqualValues(t, 1, changed)
		found, err := v.VerifyChain(ctx)
		require.NoError(t, err)
		require.False(t, found.OK(), "%s.%s of row %d", table, column, row)
	})
}

// TestWhoMakesTheChainAnewIsFoundByAHeadThatWasNoted shows what the chain does
// not prove by itself, and what a head on paper adds.
func TestWhoMakesTheChainAnewIsFoundByAHeadThatWasNoted(t *testing.T) {
	dir := t.TempDir()
	chainedRecord(t, dir)
	noted := verified(t, dir).Head
	db, err := openDatabase(filepath.Join(dir, databaseName), false)
	require.NoError(t, err)
	_, err = db.Exec("UPDATE event SET data = replace(data, 'warning', 'advice')")
	require.NoError(t, err)
	makeAnew(t, db)
	require.NoError(t, db.Close())
	v := verified(t, dir)
	require.True(t, v.OK(), "%v", v.Breaks)
	rd, err := OpenReader(dir)
	require.NoError(t, err)
	defer rd.Close()
	require.ErrorIs(t, rd.Matches(ctx, noted), ErrOtherRecord)
}

// makeAnew is what a forger with the whole device would do.
func makeAnew(t *testing.T, db *sql.DB) {
	require.NoError(t, inTx(ctx, db, func(tx *sql.Tx) error {
		var all []link
		rows, err := tx.Query(linkColumns + "ORDER BY pos")
		require.NoError(t, err)
		for rows.Next() {
			k, err := readLink(rows)
			require.NoError(t, err)
			all = append(all, k)
		}
		require.NoError(t, rows.Close())
		for i := range all[1:] {
			k := &all[i+1]
			var c contents
			require.NoError(t, eachRow(ctx, tx, rowsOf[k.kind].ask+fmt.Sprint(" AND link = ", k.pos), k.boot, func(_, t0, t1 int64, row Digest) { c.add(t0, t1, row) }))
			k.content = c.sum()
			k.head = k.after(all[i].head)
			_, err := tx.Exec("UPDATE chain SET content = ?, head = ? WHERE pos = ?", k.content[:], k.head[:], k.pos)
			require.NoError(t, err)
		}
		return nil
	}))
}

// TestARecordOfTheFirstVersion opens a record that version 1 wrote, with a
// tail that was not taken over: all of it is served, and the chain begins.
func TestARecordOfTheFirstVersion(t *testing.T) {
	dir := t.TempDir()
	unpack(t, filepath.Join("testdata", "record-v1.tar.gz"), dir)
	r := newRig(t)
	first, second := r.take(700), r.take(450)
	s := open(t, dir, Options{})
	require.EqualValues(t, 3, s.Boot())
	requireFrames(t, &s.view, 1, first)
	requireFrames(t, &s.view, 2, second)
	acts, err := s.Acts(ctx, RunID{Boot: 1})
	require.NoError(t, err)
	require.Len(t, acts, 1)
	obs, err := s.Observations(ctx, 1)
	require.NoError(t, err)
	require.NotEmpty(t, obs)
	feed(t, s, r, r.take(300))
	require.NoError(t, s.Close())
	v := verified(t, dir)
	require.True(t, v.OK(), "%v", v.Breaks)
	require.Positive(t, v.Before)
	require.Positive(t, v.Rows)
	rd, err := OpenReader(dir)
	require.NoError(t, err)
	defer rd.Close()
	old, err := rd.Chain(ctx, RunID{Boot: 2})
	require.NoError(t, err, "its tail was taken over with the chain")
	require.False(t, old.Whole, "some of it is older than the chain")
}

func unpack(t *testing.T, path, dir string) {
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	z, err := gzip.NewReader(f)
	require.NoError(t, err)
	for in := tar.NewReader(z); ; {
		h, err := in.Next()
		if errors.Is(err, io.EOF) {
			return
		}
		require.NoError(t, err)
		if h.Typeflag != tar.TypeReg {
			continue
		}
		b, err := io.ReadAll(in)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, filepath.Base(h.Name)), b, 0o644))
	}
}
