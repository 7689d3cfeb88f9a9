package csvfile_test

import (
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

// FuzzReader feeds any text to the reader, with and without a map: it must
// come to an end, never panic, let time only rise, call only finite numbers
// good, and report as many problems as it counts.
func FuzzReader(f *testing.F) {
	files, err := filepath.Glob(filepath.Join(testneed.Root(f), "testdata", "csv", "*.csv"))
	require.NoError(f, err)
	require.NotEmpty(f, files)
	for _, name := range files {
		text, err := os.ReadFile(name)
		require.NoError(f, err)
		f.Add(string(text), uint8(0))
		f.Add(string(text), uint8(1))
	}
	f.Add("t,a,s\n0,1,good\n1,-0x1p4,\n", uint8(0))
	f.Add("t;a;s\n0;1,5;\n\"1\";\"2\"\"\";\n", uint8(3))
	f.Add("t,a,s\n2026-05-04 09:30:00,1e308,good\n", uint8(4))
	f.Add("t_ns,wall,flow_m3s,flow_status\n-1,,1,good\n", uint8(1))
	f.Fuzz(func(t *testing.T, text string, kind uint8) {
		m := csvfile.Map{
			Time:    csvfile.TimeColumn{Column: "t"},
			Columns: []csvfile.Column{{Name: "a", Channel: frame.Flow, Scale: 1e3, StatusColumn: "s"}},
		}
		switch kind % 8 {
		case 1:
			m = csvfile.Map{}
		case 3:
			m.Delimiter, m.DecimalComma = ';', true
		case 4:
			m.Time.Format = time.DateTime
		case 5:
			m.Time.Format, m.Time.Unit = "epoch", "ns"
		}
		reported := uint64(0)
		r, err := csvfile.NewReader(strings.NewReader(text), "fuzz", m, csvfile.Options{
			OnProblem: func(e csvfile.RowError) {
				reported++
				if len(e.Error()) > 4096 {
					t.Fatalf("an error of %d bytes", len(e.Error()))
				}
			},
		})
		if err != nil {
			return
		}
		drain(t, r)
		if s := r.Stats(); reported < s.Skipped+s.BadCells {
			t.Fatalf("%d reported of %+v", reported, s)
		}
	})
}

func drain(t *testing.T, r *csvfile.Reader) {
	last := time.Duration(math.MinInt64)
	for {
		var f frame.Frame
		at, _, err := r.Next(&f)
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if at <= last {
			t.Fatalf("time %v after %v", at, last)
		}
		last = at
		for c, s := range f.Samples {
			if math.IsNaN(s.Value) || math.IsInf(s.Value, 0) {
				t.Fatalf("%s is %v", frame.Channel(c), s)
			}
		}
	}
}
