package csvfile_test

import (
	"io"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors/csvfile"
)

// The shapes that loggers and spreadsheets write: common practice, no source.
// The rows are invented.
func TestForeignShapes(t *testing.T) {
	psi, _ := units.Lookup(units.Pressure, "psi")
	at := time.Date(2026, 3, 4, 13, 5, 7, 0, time.UTC)
	for _, c := range []struct {
		name, text string
		time       csvfile.TimeColumn
		first      time.Time
	}{
		{"date and time apart", "Date,Time,Inlet\n2026-03-04,13:05:07,40\n2026-03-04,13:05:08,41\n",
			csvfile.TimeColumn{Column: "Time", DateColumn: "Date", Format: "YYYY-MM-DD hh:mm:ss"}, at},
		{"AM and PM", "Time,Inlet\n3/4/2026 1:05:07 PM,40\n3/4/2026 1:05:08 PM,41\n",
			csvfile.TimeColumn{Column: "Time", Format: "M/D/YYYY h:mm:ss AM"}, at},
		{"small, with points", "Time,Inlet\n3/4/2026 1:05:07 p.m.,40\n3/4/2026 1:05:08 p.m.,41\n",
			csvfile.TimeColumn{Column: "Time", Format: "M/D/YYYY h:mm:ss AM"}, at},
		{"after midnight", "Time,Inlet\n3/4/2026 12:05:07 AM,40\n3/4/2026 12:05:08 AM,41\n",
			csvfile.TimeColumn{Column: "Time", Format: "M/D/YYYY h:mm:ss AM"}, at.Add(-13 * time.Hour)},
		{"after noon", "Time,Inlet\n3/4/2026 12:05:07 PM,40\n3/4/2026 12:05:08 PM,41\n",
			csvfile.TimeColumn{Column: "Time", Format: "M/D/YYYY h:mm:ss AM"}, at.Add(-time.Hour)},
		{"lines before the header", "Logger 7\nSerial: 12, 13\n\nTime,Inlet\n2026-03-04 13:05:07,40\n2026-03-04 13:05:08,41\n",
			csvfile.TimeColumn{Column: "Time", Format: "YYYY-MM-DD hh:mm:ss"}, at},
		{"a row of units", "Date,Time,Inlet\n,hh:mm:ss,[psig]\n2026-03-04,13:05:07,40\n2026-03-04,13:05:08,41\n",
			csvfile.TimeColumn{Column: "Time", DateColumn: "Date", Format: "YYYY-MM-DD hh:mm:ss"}, at},
	} {
		t.Run(c.name, func(t *testing.T) {
			var problems []string
			m := csvfile.Map{Time: c.time, Columns: []csvfile.Column{{Name: "Inlet", Channel: frame.InletPressure, Unit: psi}}}
			r, err := csvfile.NewReader(strings.NewReader(c.text), "x.csv", m, csvfile.Options{OnProblem: func(e csvfile.RowError) { problems = append(problems, e.Error()) }})
			require.NoError(t, err)
			var f frame.Frame
			_, wall, err := r.Next(&f)
			require.NoError(t, err)
			require.Equal(t, c.first, wall.UTC())
			require.InEpsilon(t, 40*6894.757, f.Samples[frame.InletPressure].Value, 1e-6, "NIST SP 811: 1 psi = 6894.757 Pa")
			mono, _, err := r.Next(&f)
			require.NoError(t, err)
			require.Equal(t, time.Second, mono)
			_, _, err = r.Next(&f)
			require.ErrorIs(t, err, io.EOF)
			require.Empty(t, problems)
		})
	}
}

func TestHalfOfDayIsNoGuess(t *testing.T) {
	for _, cell := range []string{"3/4/2026 13:05:07 PM", "3/4/2026 0:05:07 AM", "3/4/2026 1:05:07", "3/4/2026 1:05:07 XM", "3/4/2026 1:05:07 P"} {
		m := csvfile.Map{Time: csvfile.TimeColumn{Column: "t", Format: "M/D/YYYY h:mm:ss AM"}, Columns: []csvfile.Column{{Name: "a", Channel: frame.Flow}}}
		r, err := csvfile.NewReader(strings.NewReader("t,a\n"+cell+",1\n"), "x", m, csvfile.Options{})
		require.NoError(t, err)
		var f frame.Frame
		_, _, err = r.Next(&f)
		require.ErrorIs(t, err, io.EOF, cell)
	}
}

// A unit in the file that isn't the map's is told, and not believed.
func TestUnitsRowAgainstTheMap(t *testing.T) {
	psi, _ := units.Lookup(units.Pressure, "psi")
	var problems []string
	m := csvfile.Map{Time: csvfile.TimeColumn{Column: "t"}, Columns: []csvfile.Column{{Name: "p", Channel: frame.InletPressure, Unit: psi}}}
	r, err := csvfile.NewReader(strings.NewReader("t,p\n[s],[bar]\n1,40\n"), "x", m, csvfile.Options{OnProblem: func(e csvfile.RowError) { problems = append(problems, e.Error()) }})
	require.NoError(t, err)
	var f frame.Frame
	_, _, err = r.Next(&f)
	require.NoError(t, err)
	require.Len(t, problems, 1)
	require.Contains(t, problems[0], "psi")
}

// A file whose header is nowhere is told by its first line, as ever.
func TestPreambleWithoutHeader(t *testing.T) {
	m := csvfile.Map{Time: csvfile.TimeColumn{Column: "Time"}, Columns: []csvfile.Column{{Name: "p", Channel: frame.InletPressure}}}
	_, err := csvfile.NewReader(strings.NewReader("alpha,beta\n1,2\n3,4\n"), "x", m, csvfile.Options{})
	require.ErrorContains(t, err, "alpha")
}
