package exported_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/exported"
	"headroom/daemon/store"
	"headroom/rules/units"
)

func sheet(t *testing.T, r exported.Record, s exported.Sheet) [][]string {
	var b bytes.Buffer
	n, err := exported.WriteSheet(ctx, &b, r, s)
	require.NoError(t, err)
	text, ok := strings.CutPrefix(b.String(), "\uFEFF")
	require.True(t, ok, "without the mark a spreadsheet takes °F for something else")
	in := csv.NewReader(strings.NewReader(text))
	if s.DecimalComma {
		in.Comma = ';'
	}
	rows, err := in.ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, n+1)
	return rows
}

// The first line is the header, a row is a second, its cells are the means of
// the recorded readings in people's units, and no row lies outside the span.
func TestSheet(t *testing.T) {
	r := record(t).reader()
	zone := time.FixedZone("invented", -5*3600)
	rows := sheet(t, r, exported.Sheet{Run: store.RunID{Boot: 1}, From: time.Minute, To: 2 * time.Minute, Units: units.US, Zone: zone})
	require.Equal(t, []string{"Time", "Seconds", "Inlet pressure (psi)", "Water temperature (°F)"}, rows[0][:4])
	require.Len(t, rows[1:], 60)
	require.Equal(t, "2026-05-04 04:31:00", rows[1][0], "09:31 UTC, five hours behind")
	require.Equal(t, "60", rows[1][1])
	require.Equal(t, "119", rows[60][1])
	alarms := map[string]bool{}
	for _, row := range rows[1:] {
		for _, cell := range row[1 : len(row)-1] {
			require.False(t, strings.HasPrefix(cell, "-0") && strings.Trim(cell, "-0.") == "", cell)
			require.LessOrEqual(t, len(cell), 8, "no digits that nobody measured")
		}
		alarms[row[len(row)-1]] = true
	}
	require.True(t, len(alarms) > 1, "the supply gives way in this minute")
	require.False(t, strings.Contains(strings.Join(rows[len(rows)-1], ","), "inlet_low"), "words, not names")

	// The mean of a second, worked out from the readings themselves.
	sum, n := 0.0, 0
	for i := 1; i <= 3000; i++ {
		if at := time.Duration(i)*100*time.Millisecond + time.Duration(i%7)*time.Millisecond; (at-101*time.Millisecond)/time.Second == 70 {
			f := raw(i)
			sum, n = sum+f.Samples[0].Value, n+1
		}
	}
	got, err := strconv.ParseFloat(rows[11][2], 64)
	require.NoError(t, err)
	require.InDelta(t, sum/float64(n)/6894.757, got, 0.02, "NIST SP 811: 1 psi = 6894.757 Pa")
	require.False(t, math.IsNaN(got))
}

func TestSheetWithDecimalComma(t *testing.T) {
	r := record(t).reader()
	rows := sheet(t, r, exported.Sheet{Run: store.RunID{Boot: 1, N: 1}, Units: units.SI, DecimalComma: true, Note: "invented", Step: 10 * time.Second})
	require.Equal(t, "Inlet pressure (kPa)", rows[0][2])
	require.Contains(t, rows[1][2], ",")
	require.Equal(t, "invented", rows[1][len(rows[1])-1])
	_, err := exported.WriteSheet(ctx, &bytes.Buffer{}, r, exported.Sheet{Run: store.RunID{Boot: 1}, From: 2, To: 1})
	require.Error(t, err)
	_, err = exported.WriteSheet(ctx, &bytes.Buffer{}, r, exported.Sheet{Run: store.RunID{Boot: 9}})
	require.ErrorContains(t, err, "boot 9")
}
