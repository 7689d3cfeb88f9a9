package csvfile_test

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

const benchRows = 10_000

var eight = []frame.Channel{
	frame.InletPressure, frame.WaterTemp, frame.Flow, frame.MotorCurrent,
	frame.OutletPressure, frame.ShaftSpeed, frame.SupplyVoltage, frame.Vibration,
}

// ownRecording has values with all 17 digits, the hardest to read and write.
func ownRecording(tb testing.TB) []byte {
	tb.Helper()
	var out bytes.Buffer
	w, err := csvfile.NewWriter(&out, eight, csvfile.About{})
	require.NoError(tb, err)
	rnd := rand.New(rand.NewPCG(1, 2))
	wall := time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC)
	for i := range benchRows {
		var f frame.Frame
		for _, c := range eight {
			f.Set(c, 100*rnd.Float64())
		}
		d := time.Duration(i) * 100 * time.Millisecond
		require.NoError(tb, w.Write(d, wall.Add(d), &f))
	}
	require.NoError(tb, w.Flush())
	return out.Bytes()
}

// loggerRecording has the six digits that loggers write.
func loggerRecording() []byte {
	var b strings.Builder
	b.WriteString("time;a;b;c;d;e;f;g;h\n")
	rnd := rand.New(rand.NewPCG(1, 2))
	wall := time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC)
	for i := range benchRows {
		b.WriteString(wall.Add(time.Duration(i) * time.Second).Format(time.DateTime))
		for range eight {
			fmt.Fprintf(&b, ";%.6g", 100*rnd.Float64())
		}
		b.WriteByte('\n')
	}
	return []byte(b.String())
}

func benchmarkRead(b *testing.B, text []byte, m csvfile.Map) {
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		r, err := csvfile.NewReader(bytes.NewReader(text), "bench", m, csvfile.Options{})
		require.NoError(b, err)
		var f frame.Frame
		n := 0
		for ; ; n++ {
			if _, _, err = r.Next(&f); err != nil {
				break
			}
		}
		require.ErrorIs(b, err, io.EOF)
		require.Equal(b, benchRows, n)
	}
	b.ReportMetric(float64(b.N)*benchRows/b.Elapsed().Seconds(), "rows/s")
}

func BenchmarkReadOwn(b *testing.B) { benchmarkRead(b, ownRecording(b), csvfile.Map{}) }

func BenchmarkReadLogger(b *testing.B) {
	m := csvfile.Map{Delimiter: ';', Time: csvfile.TimeColumn{Column: "time", Format: "YYYY-MM-DD hh:mm:ss"}}
	for i, c := range eight {
		m.Columns = append(m.Columns, csvfile.Column{Name: string(rune('a' + i)), Channel: c})
	}
	benchmarkRead(b, loggerRecording(), m)
}

func BenchmarkAppendRow(b *testing.B) {
	var f frame.Frame
	for i, c := range eight {
		f.Set(c, 1/float64(i+3))
	}
	enc := csvfile.NewEncoder(eight)
	wall := time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC)
	row := make([]byte, 0, 1024)
	b.ReportAllocs()
	for b.Loop() {
		row = enc.AppendRow(row[:0], time.Hour, wall, &f)
	}
	b.SetBytes(int64(len(row)))
}
