package store

import (
	"bytes"
	"compress/flate"
	"database/sql"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/store/codec"
	"headroom/daemon/store/seriestest"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// longTable makes TestTable run over ten hours in place of one.
const longTable = "HEADROOM_TABLE"

// TestTable prints sizes and times beside those of other ways, all measured in
// this run:
//
//	HEADROOM_TABLE=1 go test -run TestTable -v ./daemon/store
func TestTable(t *testing.T) {
	n := 36_000
	if os.Getenv(longTable) == "1" {
		n *= 10
	} else if testing.Short() {
		n /= 10
	}
	series := map[string][]frame.Frame{"pump": seriestest.Pump(t, n), "demo": seriestest.Demo(t, n)}
	for _, name := range []string{"pump", "demo"} {
		fs := series[name]
		tab := table{t: t}
		tab.head("%s, %d frames: encoding", name, n)
		encodings(&tab, fs)
		tab.head("%s, %d frames: on the medium, and reading it", name, n)
		best := stores(t, &tab, fs)
		t.Log("\n" + tab.b.String())
		switch {
		case name == "pump" && n >= 360_000:
			require.LessOrEqual(t, best, 1.10, "bytes a sample, all in all")
		case name == "pump" && n >= 36_000: // an empty record's 20 KB weigh more
			require.LessOrEqual(t, best, 1.20, "bytes a sample, all in all")
		}
	}
}

type table struct {
	t *testing.T
	b strings.Builder
}

func (t *table) head(format string, args ...any) {
	fmt.Fprintf(&t.b, "\n%s\n", fmt.Sprintf(format, args...))
}

func (t *table) line(what string, perSample float64, note string) {
	fmt.Fprintf(&t.b, "  %-46s %7.3f B/sample  %s\n", what, perSample, note)
}

// channelsOf lists what is fitted.
func channelsOf(fs []frame.Frame) (out []frame.Channel) {
	for ch := range frame.NumChannels {
		if fs[len(fs)-1].Samples[ch].Status != frame.NotFitted {
			out = append(out, ch)
		}
	}
	return out
}

// codesOf finds whole numbers for the values of a channel, as its converter
// gave them: those of the least step between values.
func codesOf(vs []float64) []int64 {
	step := math.Inf(1)
	seen := map[float64]bool{}
	for _, v := range vs {
		seen[v] = true
	}
	list := make([]float64, 0, len(seen))
	for v := range seen {
		list = append(list, v)
	}
	for _, a := range list {
		for _, b := range list[:min(len(list), 400)] {
			if d := math.Abs(a - b); d > 1e-9*(math.Abs(a)+math.Abs(b)) {
				step = min(step, d)
			}
		}
	}
	out := make([]int64, len(vs))
	for i, v := range vs {
		out[i] = int64(math.Round((v - vs[0]) / step))
	}
	return out
}

const chunk = 3600

func encodings(tab *table, fs []frame.Frame) {
	chs := channelsOf(fs)
	samples := float64(len(fs) * len(chs))
	var xor, xorCodes, varint, packed, raw, ent float64
	for _, ch := range chs {
		vs := make([]float64, len(fs))
		for i := range fs {
			vs[i] = fs[i].Samples[ch].Value
		}
		codes := codesOf(vs)
		ent += entropy(codes) * float64(len(fs))
		for at := 0; at+chunk <= len(fs); at += chunk {
			part := codes[at : at+chunk]
			xor += float64(gorilla(vs[at : at+chunk]))
			whole := make([]float64, chunk)
			var rows []byte
			for i, c := range part {
				whole[i] = float64(c)
				rows = append(rows, byte(c), byte(c>>8))
			}
			xorCodes += float64(gorilla(whole))
			d := deltas(nil, part)
			varint += float64(len(d))
			packed += float64(deflated(d))
			raw += float64(deflated(rows))
		}
	}
	done := float64(len(fs)/chunk*chunk) / float64(len(fs)) * samples
	tab.line("XOR of floats (Gorilla)", xor/done, "values only")
	tab.line("XOR of codes (Gorilla)", xorCodes/done, "values only")
	tab.line("16 bit codes, deflate", raw/done, "values only")
	tab.line("delta, varint", varint/done, "values only")
	tab.line("delta, varint, deflate, per channel", packed/done, "values only")
	tab.line("order 0 entropy of the deltas", ent/samples, "a limit for coders of deltas")
	for _, size := range []int{10, chunk, defaultSealFrames} {
		ours(tab, fs, size, samples)
	}
}

func deflated(b []byte) int {
	var out bytes.Buffer
	w, _ := flate.NewWriter(&out, flate.BestCompression) // the level is valid
	_, _ = w.Write(b)                                    // a buffer takes all
	_ = w.Close()
	return out.Len()
}

// ours measures blocks of a size, times and statuses and all.
func ours(tab *table, fs []frame.Frame, size int, samples float64) {
	var enc codec.Encoder
	var c, back codec.Columns
	total := 0
	var write, read time.Duration
	for at := 0; at < len(fs); at += size {
		c.Reset()
		for i := at; i < min(at+size, len(fs)); i++ {
			c.Append(int64(i+1)*int64(seriestest.Tick), startWall.UnixNano(), &fs[i])
		}
		begin := time.Now()
		b, err := enc.Append(nil, &c)
		write += time.Since(begin)
		require.NoError(tab.t, err)
		total += len(b)
		begin = time.Now()
		require.NoError(tab.t, readBlock(b, &back))
		read += time.Since(begin)
		var f frame.Frame
		for i := range back.T {
			back.Frame(i, &f)
			if f != fs[at+i] {
				require.Equal(tab.t, fs[at+i], f)
			}
		}
	}
	tab.line(fmt.Sprintf("headroom, adaptive Rice, blocks of %d", size), float64(total)/samples,
		fmt.Sprintf("bit for bit; encode %.0f, decode %.0f ns/sample", float64(write)/samples, float64(read)/samples))
}

// stores writes the series through the store and into rows of SQLite.
func stores(t *testing.T, tab *table, fs []frame.Frame) (perSample float64) {
	dir := t.TempDir()
	samples := float64(len(fs) * len(channelsOf(fs)))
	s, err := Open(dir, Options{Info: testInfo})
	require.NoError(t, err)
	v := engine.Verdicts{Machine: machine.Running}
	begin := time.Now()
	for i := range fs {
		at := time.Duration(i+1) * seriestest.Tick
		require.NoError(t, s.Append(at, startWall.Add(at), &fs[i], &v))
		if i%10 == 9 {
			require.NoError(t, s.Sync())
		}
	}
	require.NoError(t, s.Close())
	took := time.Since(begin)
	info, err := os.Stat(filepath.Join(dir, databaseName))
	require.NoError(t, err)
	perSample = float64(info.Size()) / samples
	tab.line("headroom, record.db: frames, buckets, indices", perSample,
		fmt.Sprintf("%.1f µs a frame with a sync each second", float64(took.Microseconds())/float64(len(fs))))

	rows := filepath.Join(t.TempDir(), "rows.db")
	size := plainRows(t, rows, fs)
	tab.line("SQLite, a row a frame", float64(size)/samples, "")

	buckets := query(t, func() {
		rd, err := OpenReader(dir)
		require.NoError(t, err)
		got, err := rd.Buckets(ctx, RunID{1, 1}, frame.OutletPressure, 0, 0, 1000)
		require.NoError(t, err)
		require.Len(t, got, 1000)
		require.NoError(t, rd.Close())
	})
	plain := query(t, func() {
		db, err := openDatabase(rows, true)
		require.NoError(t, err)
		r, err := db.Query("SELECT min(v), max(v), avg(v) FROM (SELECT t * 1000 / ? AS b, outlet_pressure AS v FROM f) GROUP BY b", int64(len(fs)+1)*int64(seriestest.Tick))
		require.NoError(t, err)
		for r.Next() {
			continue
		}
		require.NoError(t, r.Close())
		require.NoError(t, db.Close())
	})
	fmt.Fprintf(&tab.b, "  1000 buckets of one channel, file opened anew:    headroom %v, SQLite rows %v\n", buckets, plain)
	return perSample
}

// query is the best of some tries; the files are opened anew in each, their
// pages are in the system's cache.
func query(t *testing.T, do func()) time.Duration {
	t.Helper()
	best := time.Hour
	for range 5 {
		begin := time.Now()
		do()
		best = min(best, time.Since(begin))
	}
	return best.Round(10 * time.Microsecond)
}

// plainRows is what one would do first: a table with a column for each channel.
func plainRows(t *testing.T, path string, fs []frame.Frame) int64 {
	db, err := openDatabase(path, false)
	require.NoError(t, err)
	chs := channelsOf(fs)
	names := make([]string, len(chs))
	for i, ch := range chs {
		names[i] = ch.String() + " REAL, s" + fmt.Sprint(i) + " INTEGER"
	}
	_, err = db.Exec("CREATE TABLE f (t INTEGER PRIMARY KEY, wall INTEGER, " + strings.Join(names, ", ") + ")")
	require.NoError(t, err)
	require.NoError(t, inTx(ctx, db, func(tx *sql.Tx) error {
		put, err := tx.Prepare("INSERT INTO f VALUES (?, ?" + strings.Repeat(", ?, ?", len(chs)) + ")")
		if err != nil {
			return err
		}
		args := make([]any, 2+2*len(chs))
		for i := range fs {
			at := int64(i+1) * int64(seriestest.Tick)
			args[0], args[1] = at, startWall.UnixNano()+at
			for j, ch := range chs {
				args[2+2*j], args[3+2*j] = fs[i].Samples[ch].Value, int64(fs[i].Samples[ch].Status)
			}
			if _, err := put.Exec(args...); err != nil {
				return err
			}
		}
		return nil
	}))
	require.NoError(t, db.Close())
	info, err := os.Stat(path)
	require.NoError(t, err)
	return info.Size()
}
