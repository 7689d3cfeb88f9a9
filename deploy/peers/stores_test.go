package peers

import (
	"context"
	"database/sql"
	"fmt"
	"io/fs"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/prometheus/model/labels"
	"github.com/prometheus/prometheus/storage"
	"github.com/prometheus/prometheus/tsdb"
	"github.com/prometheus/prometheus/tsdb/chunkenc"
	"github.com/stretchr/testify/require"
	_ "modernc.org/sqlite"

	"headroom/daemon/store"
	"headroom/daemon/store/seriestest"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

var begin = time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC)

// writer is a store that is written to.
type writer interface {
	Append(i int, f *frame.Frame) error
	// Sync makes safe what was appended, by the store's own usual means.
	Sync() error
	// Close also puts everything into its final form.
	Close() error
}

// peer is one kind of store.
type peer struct {
	name string
	open func(t testing.TB, dir string, channels []frame.Channel) writer
	// bytes of the final form in a folder.
	bytes func(t testing.TB, dir string) int64
	// read sums a channel up in n buckets, from a store that is opened anew,
	// and returns the greatest value, so that all can be compared.
	read func(t testing.TB, dir string, ch frame.Channel, frames, n int) (greatest float64)
}

var peers = []peer{
	{"headroom", openOurs, bytesOf("record.db"), readOurs},
	{"prometheus-tsdb", openTSDB, bytesOf("chunks", "index", "tombstones", "meta.json"), readTSDB},
	{"sqlite-rows", openRows, bytesOf("rows.db"), readRows},
}

// channelsOf lists what the series has.
func channelsOf(series []frame.Frame) (out []frame.Channel) {
	for ch := range frame.NumChannels {
		if series[0].Samples[ch].Status != frame.NotFitted {
			out = append(out, ch)
		}
	}
	return out
}

// bytesOf adds up files whose path holds one of the names.
func bytesOf(names ...string) func(testing.TB, string) int64 {
	return func(t testing.TB, dir string) (n int64) {
		require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || strings.Contains(path, "chunks_head") {
				return err
			}
			for _, name := range names {
				if strings.HasPrefix(d.Name(), name) || filepath.Base(filepath.Dir(path)) == name {
					info, err := d.Info()
					if err == nil {
						n += info.Size()
					}
					return err
				}
			}
			return nil
		}))
		return n
	}
}

// ours is the record as the daemon writes it.
type ours struct {
	*store.Store
	v engine.Verdicts
}

func openOurs(t testing.TB, dir string, _ []frame.Channel) writer {
	s, err := store.Open(dir, store.Options{Info: store.Info{Software: "peers", Machine: "invented"}})
	require.NoError(t, err)
	return &ours{s, engine.Verdicts{Machine: machine.Running}}
}

func (o *ours) Append(i int, f *frame.Frame) error {
	at := time.Duration(i+1) * seriestest.Tick
	return o.Store.Append(at, begin.Add(at), f, &o.v)
}

func readOurs(t testing.TB, dir string, ch frame.Channel, _, n int) float64 {
	r, err := store.OpenReader(dir)
	require.NoError(t, err)
	defer r.Close()
	buckets, err := r.Buckets(context.Background(), store.RunID{Boot: 1, N: 1}, ch, 0, 0, n)
	require.NoError(t, err)
	require.Len(t, buckets, n)
	greatest := math.Inf(-1)
	for i := range buckets {
		if buckets[i].OK > 0 {
			greatest = max(greatest, buckets[i].Max)
		}
	}
	return greatest
}

// series is Prometheus' storage engine: a series a channel, engineering values.
type series struct {
	db       *tsdb.DB
	app      storage.Appender
	channels []frame.Channel
	labels   []labels.Labels
	refs     []storage.SeriesRef
}

func openTSDB(t testing.TB, dir string, channels []frame.Channel) writer {
	o := tsdb.DefaultOptions()
	db, err := tsdb.Open(dir, slog.New(slog.DiscardHandler), nil, o, nil)
	require.NoError(t, err)
	s := &series{db: db, channels: channels, refs: make([]storage.SeriesRef, len(channels))}
	for _, ch := range channels {
		s.labels = append(s.labels, labels.FromStrings("__name__", "jetter_"+ch.String()))
	}
	return s
}

func millis(i int) int64 {
	return begin.Add(time.Duration(i+1) * seriestest.Tick).UnixMilli()
}

func (s *series) Append(i int, f *frame.Frame) (err error) {
	if s.app == nil {
		s.app = s.db.Appender(context.Background())
	}
	for k, ch := range s.channels {
		if s.refs[k], err = s.app.Append(s.refs[k], s.labels[k], millis(i), f.Samples[ch].Value); err != nil {
			return err
		}
	}
	return nil
}

// Sync commits to the log written ahead; the engine itself syncs that only when
// a segment is full.
func (s *series) Sync() error {
	if s.app == nil {
		return nil
	}
	app := s.app
	s.app = nil
	return app.Commit()
}

// Close turns all that is in memory into a block.
func (s *series) Close() error {
	if err := s.Sync(); err != nil {
		return err
	}
	head := s.db.Head()
	if err := s.db.CompactHead(tsdb.NewRangeHead(head, head.MinTime(), head.MaxTime())); err != nil {
		return err
	}
	return s.db.Close()
}

func readTSDB(t testing.TB, dir string, ch frame.Channel, frames, n int) float64 {
	db, err := tsdb.OpenDBReadOnly(dir, t.TempDir(), slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	defer db.Close()
	from, to := millis(0), millis(frames-1)
	q, err := db.Querier(from, to)
	require.NoError(t, err)
	defer q.Close()
	set := q.Select(context.Background(), false, nil, labels.MustNewMatcher(labels.MatchEqual, "__name__", "jetter_"+ch.String()))
	buckets := make([]struct{ least, greatest, sum, n float64 }, n)
	greatest := math.Inf(-1)
	var it chunkenc.Iterator
	for set.Next() {
		it = set.At().Iterator(it)
		for it.Next() == chunkenc.ValFloat {
			at, v := it.At()
			b := &buckets[(at-from)*int64(n)/(to-from+1)]
			if b.n == 0 {
				b.least, b.greatest = v, v
			}
			b.least, b.greatest = min(b.least, v), max(b.greatest, v)
			b.sum += v
			b.n++
			greatest = max(greatest, v)
		}
		require.NoError(t, it.Err())
	}
	require.NoError(t, set.Err())
	return greatest
}

// rows is SQLite with a row a frame, made durable each second.
type rows struct {
	db       *sql.DB
	tx       *sql.Tx
	put      string
	args     []any
	channels []frame.Channel
}

func openRowsDB(t testing.TB, dir string) *sql.DB {
	db, err := sql.Open("sqlite", filepath.Join(dir, "rows.db")+"?_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)")
	require.NoError(t, err)
	db.SetMaxOpenConns(1)
	return db
}

func openRows(t testing.TB, dir string, channels []frame.Channel) writer {
	db := openRowsDB(t, dir)
	names := make([]string, len(channels))
	for i, ch := range channels {
		names[i] = ch.String() + " REAL"
	}
	_, err := db.Exec("CREATE TABLE f (t INTEGER PRIMARY KEY, " + strings.Join(names, ", ") + ")")
	require.NoError(t, err)
	return &rows{
		db: db, channels: channels, args: make([]any, 1+len(channels)),
		put: "INSERT INTO f VALUES (?" + strings.Repeat(", ?", len(channels)) + ")",
	}
}

func (r *rows) Append(i int, f *frame.Frame) (err error) {
	if r.tx == nil {
		if r.tx, err = r.db.Begin(); err != nil {
			return err
		}
	}
	r.args[0] = millis(i)
	for k, ch := range r.channels {
		r.args[k+1] = f.Samples[ch].Value
	}
	_, err = r.tx.Exec(r.put, r.args...)
	return err
}

func (r *rows) Sync() error {
	if r.tx == nil {
		return nil
	}
	tx := r.tx
	r.tx = nil
	return tx.Commit()
}

func (r *rows) Close() error {
	if err := r.Sync(); err != nil {
		return err
	}
	return r.db.Close()
}

func readRows(t testing.TB, dir string, ch frame.Channel, frames, n int) float64 {
	db := openRowsDB(t, dir)
	defer db.Close()
	from, to := millis(0), millis(frames-1)
	ask := fmt.Sprintf("SELECT min(v), max(v), avg(v) FROM (SELECT (t - ?) * ? / ? AS b, %s AS v FROM f WHERE t BETWEEN ? AND ?) GROUP BY b", ch)
	got, err := db.Query(ask, from, n, to-from+1, from, to)
	require.NoError(t, err)
	defer got.Close()
	greatest, count := math.Inf(-1), 0
	for got.Next() {
		var a, b, c float64
		require.NoError(t, got.Scan(&a, &b, &c))
		greatest = max(greatest, b)
		count++
	}
	require.NoError(t, got.Err())
	require.Equal(t, n, count)
	return greatest
}

// fill writes the whole series, with a sync each second.
func fill(t testing.TB, w writer, fs []frame.Frame) {
	for i := range fs {
		require.NoError(t, w.Append(i, &fs[i]))
		if i%10 == 9 {
			require.NoError(t, w.Sync())
		}
	}
}

// setting is a whole number from the environment.
func setting(name string, def int) int {
	var n int
	if _, err := fmt.Sscan(os.Getenv(name), &n); err != nil || n < 1 {
		return def
	}
	return n
}
