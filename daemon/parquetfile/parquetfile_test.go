package parquetfile

import (
	"bytes"
	"errors"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

type row struct {
	t    time.Duration
	wall time.Time
	f    frame.Frame
}

func write(t require.TestingT, channels []frame.Channel, rows []row) []byte {
	var out bytes.Buffer
	w, err := NewWriter(&out, channels, "0.0.0-test", []Word{{"headroom.machine", "trailer 2, invented"}, {"headroom.act", "{}\n{}"}})
	require.NoError(t, err)
	for i := range rows {
		require.NoError(t, w.Write(rows[i].t, rows[i].wall, &rows[i].f))
	}
	require.NoError(t, w.Close())
	return out.Bytes()
}

func read(t require.TestingT, b []byte) (rows []row, r *Reader) {
	r, err := NewReader(bytes.NewReader(b), int64(len(b)))
	require.NoError(t, err)
	for {
		var k row
		var err error
		k.t, k.wall, err = r.Next(&k.f)
		if errors.Is(err, io.EOF) {
			_, _, again := r.Next(&k.f)
			require.ErrorIs(t, again, io.EOF)
			return rows, r
		}
		require.NoError(t, err)
		rows = append(rows, k)
	}
}

// TestEveryBitComesBack writes anything that a frame can hold.
func TestEveryBitComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		channels := rapid.SliceOfNDistinct(rapid.Map(rapid.IntRange(0, int(frame.NumChannels)-1), func(i int) frame.Channel { return frame.Channel(i) }), 1, 6, rapid.ID).Draw(t, "channels")
		at := time.Duration(rapid.Int64Range(-1<<50, 1<<50).Draw(t, "begin"))
		var rows []row
		for range rapid.IntRange(0, 600).Draw(t, "rows") {
			k := row{t: at}
			at += time.Duration(rapid.Int64Range(1, 1<<40).Draw(t, "step"))
			if rapid.Bool().Draw(t, "dated") {
				k.wall = time.Unix(0, rapid.Int64Range(-1<<61, 1<<61).Draw(t, "wall")).UTC()
			}
			for _, c := range channels {
				k.f.Samples[c] = frame.Sample{
					Value:  rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{0, math.Copysign(0, -1), math.MaxFloat64, math.SmallestNonzeroFloat64})).Draw(t, "value"),
					Status: frame.Status(rapid.IntRange(0, int(frame.NumStatuses)-1).Draw(t, "status")),
				}
			}
			rows = append(rows, k)
		}
		got, r := read(t, write(t, channels, rows))
		require.Len(t, got, len(rows))
		for i := range rows {
			require.Equal(t, rows[i].t, got[i].t)
			require.True(t, rows[i].wall.Equal(got[i].wall))
			for c := range rows[i].f.Samples {
				require.Equal(t, rows[i].f.Samples[c].Status, got[i].f.Samples[c].Status)
				require.Equal(t, math.Float64bits(rows[i].f.Samples[c].Value), math.Float64bits(got[i].f.Samples[c].Value))
			}
		}
		require.ElementsMatch(t, channels, r.Channels())
		text, ok := r.Word("headroom.act")
		require.True(t, ok)
		require.Equal(t, "{}\n{}", text)
		_, ok = r.Word("headroom.nothing")
		require.False(t, ok)
	})
}

// TestColumnsAreAsTheDocSays reads the file with the library alone.
func TestColumnsAreAsTheDocSays(t *testing.T) {
	k := row{t: 1500 * time.Millisecond, wall: time.Date(2026, 5, 4, 9, 30, 0, 5, time.UTC)}
	k.f.Set(frame.InletPressure, 310264.1)
	k.f.Samples[frame.WaterTemp].Status = frame.Missing
	b := write(t, []frame.Channel{frame.WaterTemp, frame.InletPressure}, []row{k})
	f, err := parquet.OpenFile(bytes.NewReader(b), int64(len(b)))
	require.NoError(t, err)
	var names []string
	for _, field := range f.Schema().Fields() {
		names = append(names, field.Name())
	}
	require.Equal(t, []string{"t_ns", "time_s", "wall", "inlet_pressure_pa", "inlet_pressure_status", "water_temp_k", "water_temp_status"}, names)
	rows := make([]parquet.Row, 2)
	n, err := f.RowGroups()[0].Rows().ReadRows(rows)
	require.True(t, err == nil || errors.Is(err, io.EOF))
	require.Equal(t, 1, n)
	require.EqualValues(t, 1_500_000_000, rows[0][0].Int64())
	require.Equal(t, 1.5, rows[0][1].Double())
	require.Equal(t, k.wall.UnixNano(), rows[0][2].Int64())
	require.Equal(t, 310264.1, rows[0][3].Double())
	require.Equal(t, "good", rows[0][4].String())
	require.True(t, rows[0][5].IsNull())
	require.Equal(t, "missing", rows[0][6].String())
	units, _ := f.Lookup("headroom.units")
	require.JSONEq(t, `{"t_ns":"ns","time_s":"s","inlet_pressure_pa":"Pa","water_temp_k":"K"}`, units)
	for c := range frame.NumChannels {
		ending := strings.TrimPrefix(csvfile.ValueColumn(c), c.String()+"_")
		require.NotEqual(t, ending, unitOf(ending), "%v has no unit", c)
	}
}

// TestWhatIsNotFiniteIsNotGood: a good sample is always a number.
func TestWhatIsNotFiniteIsNotGood(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		var k row
		k.f.Samples[frame.Flow] = frame.Sample{Value: v, Status: frame.Good}
		got, _ := read(t, write(t, []frame.Channel{frame.Flow}, []row{k}))
		require.Equal(t, frame.Sample{Status: frame.Failed}, got[0].f.Samples[frame.Flow])
	}
}

func TestWhatTheWriterRefuses(t *testing.T) {
	w, err := NewWriter(io.Discard, []frame.Channel{frame.Flow}, "0.0.0-test", nil)
	require.NoError(t, err)
	var f frame.Frame
	require.NoError(t, w.Write(2, time.Time{}, &f))
	require.ErrorContains(t, w.Write(2, time.Time{}, &f), "must lie after")
	f.Set(frame.WaterTemp, 288)
	require.ErrorContains(t, w.Write(3, time.Time{}, &f), "without a column")
}

// full fails after some bytes.
type full struct{ left int }

func (f *full) Write(b []byte) (int, error) {
	if f.left -= len(b); f.left < 0 {
		return 0, io.ErrShortWrite
	}
	return len(b), nil
}

func TestAFullDiskIsTold(t *testing.T) {
	w, err := NewWriter(&full{100}, []frame.Channel{frame.Flow}, "0.0.0-test", nil)
	require.NoError(t, err)
	var f frame.Frame
	for i := range 1000 {
		f.Set(frame.Flow, float64(i)*1e-7)
		if err = w.Write(time.Duration(i+1), time.Time{}, &f); err != nil {
			break
		}
	}
	if err == nil {
		err = w.Close()
	}
	require.ErrorIs(t, err, io.ErrShortWrite)
}

func TestForeignFiles(t *testing.T) {
	foreign := func(root parquet.Group, words ...string) []byte {
		var out bytes.Buffer
		options := []parquet.WriterOption{parquet.NewSchema("x", root)}
		for i := 0; i+1 < len(words); i += 2 {
			options = append(options, parquet.KeyValueMetadata(words[i], words[i+1]))
		}
		w := parquet.NewGenericWriter[any](&out, options...)
		require.NoError(t, w.Close())
		return out.Bytes()
	}
	whole := func() parquet.Group {
		return parquet.Group{"t_ns": parquet.Int(64), "wall": parquet.Optional(parquet.Timestamp(parquet.Nanosecond))}
	}
	noStatus, texts := whole(), whole()
	noStatus["flow_m3s"] = parquet.Optional(parquet.Leaf(parquet.DoubleType))
	texts["t_ns"] = parquet.String()
	for want, b := range map[string][]byte{
		"not a recording of this program": foreign(whole()),
		"newer than the 1 known here":     foreign(whole(), versionKey, "2"),
		"its version \"x\" is damaged":    foreign(whole(), versionKey, "x"),
		"no column \"wall\"":              foreign(parquet.Group{"t_ns": parquet.Int(64)}, versionKey, "1"),
		"no column \"flow_status\"":       foreign(noStatus, versionKey, "1"),
		"holds something else":            foreign(texts, versionKey, "1"),
		"cannot read the Parquet file":    []byte("PAR1"),
	} {
		_, err := NewReader(bytes.NewReader(b), int64(len(b)))
		require.ErrorContains(t, err, want)
	}
}

// FuzzReader opens anything; nothing may panic, and no good sample may be other
// than a number.
func FuzzReader(f *testing.F) {
	var k row
	k.f.Set(frame.Flow, 1e-4)
	b := write(f, []frame.Channel{frame.Flow}, []row{k})
	f.Add(b)
	f.Add(b[:len(b)/2])
	f.Fuzz(func(t *testing.T, b []byte) {
		r, err := NewReader(bytes.NewReader(b), int64(len(b)))
		if err != nil {
			return
		}
		var f frame.Frame
		for range 10_000 {
			if _, _, err := r.Next(&f); err != nil {
				return
			}
			for _, s := range f.Samples {
				require.False(t, s.OK() && (math.IsNaN(s.Value) || math.IsInf(s.Value, 0)))
			}
		}
	})
}

func BenchmarkWrite(b *testing.B) {
	channels := []frame.Channel{0, 1, 2, 3, 4, 5, 6, 7}
	w, err := NewWriter(io.Discard, channels, "0.0.0-test", nil)
	require.NoError(b, err)
	var f frame.Frame
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		for _, c := range channels {
			f.Set(c, float64(i%1000))
		}
		require.NoError(b, w.Write(time.Duration(i+1), time.Time{}, &f))
	}
}
