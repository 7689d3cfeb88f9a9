package csvfile_test

import (
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors/csvfile"
)

// got is everything a reader gave.
type got struct {
	t        []time.Duration
	wall     []time.Time
	frames   []frame.Frame
	problems []csvfile.RowError
	stats    csvfile.Stats
}

func readAll(t require.TestingT, in io.Reader, m csvfile.Map) (g got, r *csvfile.Reader) {
	r, err := csvfile.NewReader(in, "x.csv", m, csvfile.Options{
		OnProblem: func(e csvfile.RowError) { g.problems = append(g.problems, e) },
	})
	require.NoError(t, err)
	for {
		var f frame.Frame
		at, wall, err := r.Next(&f)
		if err != nil {
			require.ErrorIs(t, err, io.EOF)
			break
		}
		g.t, g.wall, g.frames = append(g.t, at), append(g.wall, wall), append(g.frames, f)
	}
	g.stats = r.Stats()
	return g, r
}

func testdata(t testing.TB, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(testneed.Root(t), "testdata", "csv", name))
	require.NoError(t, err)
	return string(text)
}

// column is a column in SI.
func column(name string, c frame.Channel) csvfile.Column {
	return csvfile.Column{Name: name, Channel: c}
}

func unit(t testing.TB, q units.Quantity, symbol string) units.Unit {
	t.Helper()
	u, ok := units.Lookup(q, symbol)
	require.True(t, ok, symbol)
	return u
}

// cells gives a channel's samples as short text: the value, or the status.
func (g *got) cells(c frame.Channel) []string {
	var out []string
	for i := range g.frames {
		if s := g.frames[i].Samples[c]; s.OK() {
			out = append(out, units.Number(units.None, units.SI, s.Value))
		} else {
			out = append(out, s.Status.String())
		}
	}
	return out
}

func (g *got) lines() []int {
	var out []int
	for _, p := range g.problems {
		out = append(out, p.Line)
	}
	return out
}

func TestBOMQuotesAndDecimalComma(t *testing.T) {
	g, _ := readAll(t, strings.NewReader(testdata(t, "bom-crlf-decimal-comma.csv")), csvfile.Map{
		Delimiter: ';', DecimalComma: true,
		Time: csvfile.TimeColumn{Column: "time", Format: "DD.MM.YYYY hh:mm:ss"},
		Columns: []csvfile.Column{
			{Name: "inlet; hose", Channel: frame.InletPressure, Unit: unit(t, units.Pressure, "bar")},
			{Name: "flow", Channel: frame.Flow, Unit: unit(t, units.FlowRate, "L/min"), Scale: 2, Offset: -5},
		},
	})
	require.Empty(t, g.problems)
	require.Equal(t, []time.Duration{0, 1500 * time.Millisecond}, g.t)
	require.Equal(t, time.Date(2026, 5, 4, 9, 30, 1, 5e8, time.UTC), g.wall[1])
	require.Equal(t, []string{"150000.00", "-25000.00"}, g.cells(frame.InletPressure))
	require.InEpsilon(t, 20.0/60000, g.frames[1].Samples[frame.Flow].Value, 1e-12) // 12.5*2-5 L/min
	require.Equal(t, frame.NotFitted, g.frames[0].Samples[frame.WaterTemp].Status)
}

func TestGapsAndText(t *testing.T) {
	g, _ := readAll(t, strings.NewReader(testdata(t, "gaps-and-text.csv")), csvfile.Map{
		Time: csvfile.TimeColumn{Column: "datetime", Format: time.DateTime},
		Columns: []csvfile.Column{
			column("inlet", frame.InletPressure), column("temp", frame.WaterTemp),
			column("flow", frame.Flow), column("run", frame.Running),
		},
	})
	require.Equal(t, []string{"310264.00", "missing", "missing", "310000.00", "failed", "310000.00"}, g.cells(frame.InletPressure))
	require.Equal(t, []string{"288.40", "288.50", "288.50", "out_of_band", "288.60", "288.60"}, g.cells(frame.WaterTemp))
	require.Equal(t, []string{"0.00", "0.00", "missing", "out_of_band", "0.00", "0.00"}, g.cells(frame.Flow))
	require.Equal(t, []string{"1.00", "1.00", "1.00", "0.00", "failed", "1.00"}, g.cells(frame.Running))
	require.Equal(t, []int{6, 6, 7, 7, 8, 8}, g.lines(), "an empty cell is no problem, each other one is")
	require.Equal(t, csvfile.Stats{Rows: 6, BadCells: 6}, g.stats)
}

func TestTimeFaults(t *testing.T) {
	m := csvfile.Map{Time: csvfile.TimeColumn{Column: "t"}, Columns: []csvfile.Column{column("flow", frame.Flow)}}
	g, _ := readAll(t, strings.NewReader(testdata(t, "time-faults.csv")), m)
	require.Equal(t, []time.Duration{0, time.Second, 2 * time.Second, 2250 * time.Millisecond}, g.t)
	require.Equal(t, []string{"1.00", "2.00", "6.00", "7.00"}, g.cells(frame.Flow))
	require.Equal(t, csvfile.Stats{Rows: 4, Skipped: 3}, g.stats)
	require.Equal(t, []int{4, 5, 6}, g.lines())
	require.True(t, g.wall[0].IsZero(), "elapsed seconds tell no date")
	for i, want := range []string{
		`x.csv:4: column "t": "11" repeats the time of the row before; let the logger write fractions of a second, or one row a second`,
		`x.csv:5: column "t": "10.5" goes back in time; was the logger's clock set? split the file there`,
		`x.csv:6: column "t": "noon" is no time in the column's format; check the time format and unit in the column map`,
	} {
		require.Equal(t, want, g.problems[i].Error())
	}
}

func TestChannelThatDisappears(t *testing.T) {
	g, _ := readAll(t, strings.NewReader(testdata(t, "sensor-lost.csv")), csvfile.Map{
		Time: csvfile.TimeColumn{Column: "t"},
		Columns: []csvfile.Column{
			column("inlet", frame.InletPressure), column("temp", frame.WaterTemp), column("flow", frame.Flow),
		},
	})
	require.Equal(t, []string{"1.00", "4.00", "7.00", "9.00", "11.00", "13.00"}, g.cells(frame.InletPressure))
	require.Equal(t, []string{"2.00", "5.00", "missing", "10.00", "12.00", "14.00"}, g.cells(frame.WaterTemp),
		"where the row first ends early, its last number may be cut through")
	require.Equal(t, []string{"3.00", "6.00", "missing", "missing", "missing", "15.00"}, g.cells(frame.Flow))
	require.Equal(t, []int{4}, g.lines(), "one word for the whole series")
	require.Equal(t, csvfile.Stats{Rows: 6, ShortRows: 3}, g.stats)
}

func TestCutOffAndTooManyFields(t *testing.T) {
	m := csvfile.Map{Time: csvfile.TimeColumn{Column: "t"}, Columns: []csvfile.Column{column("inlet", frame.InletPressure)}}
	g, _ := readAll(t, strings.NewReader(testdata(t, "cut-off.csv")), m)
	// The last line has all its fields, so only its last number may be cut.
	require.Equal(t, []string{"1.00", "3.00", "11.00", "13.00"}, g.cells(frame.InletPressure))
	require.Equal(t, []int{4, 5}, g.lines())

	g, _ = readAll(t, strings.NewReader("t,inlet,flow\n0,1,2\n1,3"), m)
	require.Equal(t, []string{"1.00"}, g.cells(frame.InletPressure), "a number without a delimiter after it may be cut")
	require.Contains(t, g.problems[0].Error(), "cut off at the end")
}

func TestOverlongLineCostsItselfOnly(t *testing.T) {
	m := csvfile.Map{Time: csvfile.TimeColumn{Column: "t"}, Columns: []csvfile.Column{column("a", frame.Flow)}}
	text := "t,a\n0,1\n1," + strings.Repeat("9", 300_000) + "\n2,3\n"
	for _, in := range []io.Reader{strings.NewReader(text), iotest.OneByteReader(strings.NewReader(text))} {
		g, _ := readAll(t, in, m)
		require.Equal(t, []string{"1.00", "3.00"}, g.cells(frame.Flow))
		require.Equal(t, []int{3}, g.lines())
		require.Less(t, len(g.problems[0].Text), 100)
	}
}

func TestHeaderErrorsNameTheMend(t *testing.T) {
	m := csvfile.Map{
		Delimiter: ';',
		Time:      csvfile.TimeColumn{Column: "datetime", Format: "YYYY-MM-DD hh:mm:ss"},
		Columns:   []csvfile.Column{column("Current", frame.MotorCurrent), column("Flow", frame.Flow)},
	}
	for name, c := range map[string]struct {
		text string
		m    csvfile.Map
		want []string
	}{
		"missing":        {"datetime;Curent;flow rate;x\n", m, []string{`no column "Current" (motor_current): did you mean "Curent"?`, `no column "Flow"`, `the header has "datetime", "Curent"`}},
		"delimiter":      {"datetime,Current,Flow\n", m, []string{`split by ';' its header`, `write delimiter = ","`}},
		"delimiter, odd": {"datetime^Current^Flow\n", m, []string{"name the right delimiter"}},
		"twice":          {"datetime;Current;Flow;Flow\n", m, []string{`"Flow" (flow) stands there twice`}},
		"empty":          {"", m, []string{"no header line"}},
		"comments":       {"# a\n#b\n\n", m, []string{"no header line"}},
		"UTF-16":         {testdata(t, "utf-16.csv"), m, []string{"UTF-16", "UTF-8"}},
		"quote":          {"\"datetime;Current\n", m, []string{"quote"}},
		"no map":         {"datetime;Current;Flow\n", csvfile.Map{}, []string{"a map of its columns is needed", "[csv]", "-config"}},
		"newer":          {"# headroom recording 2\nt_ns,wall\n", csvfile.Map{}, []string{"version 2", "update"}},
		"own, no status": {"t_ns,wall,flow_m3s\n", csvfile.Map{}, []string{`"flow_status"`}},
		"not UTF-8":      {"datetime;Current;D\xe9bit\n", m, []string{"not UTF-8", "save the file as UTF-8"}},
		"long":           {strings.Repeat("x", 100_000) + "\n", m, []string{"longer than"}},
	} {
		_, err := csvfile.NewReader(strings.NewReader(c.text), "x.csv", c.m, csvfile.Options{})
		require.Error(t, err, name)
		for _, w := range append(c.want, "x.csv") {
			require.ErrorContains(t, err, w, name)
		}
	}
}

func TestMapErrors(t *testing.T) {
	good := func() csvfile.Map {
		return csvfile.Map{Time: csvfile.TimeColumn{Column: "t"}, Columns: []csvfile.Column{column("a", frame.Flow)}}
	}
	m := good()
	require.NoError(t, m.Validate())
	for want, spoil := range map[string]func(*csvfile.Map){
		"can't split":         func(m *csvfile.Map) { m.Delimiter = '1' },
		"use a comma":         func(m *csvfile.Map) { m.Delimiter = 'ü' },
		"no time column":      func(m *csvfile.Map) { m.Time.Column = "" },
		"no column of values": func(m *csvfile.Map) { m.Columns = nil },
		"two columns":         func(m *csvfile.Map) { m.Columns = append(m.Columns, column("b", frame.Flow)) },
		"no known channel":    func(m *csvfile.Map) { m.Columns[0].Channel = frame.NumChannels },
		"has no name":         func(m *csvfile.Map) { m.Columns[0].Name = "" },
		"must be numbers":     func(m *csvfile.Map) { m.Columns[0].Scale = math.NaN() },
		"s, ms, us, ns":       func(m *csvfile.Map) { m.Time.Unit = "h" },
		"leave one out":       func(m *csvfile.Map) { m.Time.Unit, m.Time.Format = "s", time.DateTime },
		"is no part of":       func(m *csvfile.Map) { m.Time.Format = "YYYY-MM-DD hh:mm:ss pm" },
		"months are MM":       func(m *csvfile.Map) { m.Time.Format = "YYYY-MM-DD hh:MM:ss" },
		"whole date and time": func(m *csvfile.Map) { m.Time.Format = "15:04:05" },
		"YYYY-MM-DD hh:mm:ss": func(m *csvfile.Map) { m.Time.Format = "hh:mm:ss" },
	} {
		m := good()
		spoil(&m)
		require.ErrorContains(t, m.Validate(), want)
	}
}

func TestTimeFormats(t *testing.T) {
	want := time.Date(2026, 5, 4, 9, 30, 1, 0, time.UTC)
	half := want.Add(500 * time.Millisecond)
	for _, c := range []struct {
		format, unit, text string
		want               time.Time
	}{
		{"YYYY-MM-DD hh:mm:ss", "", "2026-05-04 09:30:01", want},
		{"YYYY-MM-DDThh:mm:ssZ", "", "2026-05-04T09:30:01.5Z", half},
		{"D.M.YYYY h:mm", "", "4.5.2026 9:30", want.Add(-time.Second)},
		{"MM/DD/YYYY hh:mm:ss", "", "05/04/2026 09:30:01,500", half},
		{"YYYYMMDDhhmmss", "", "20260504093001", want},
		{time.RFC3339, "", "2026-05-04T11:30:01.5+02:00", half},
		{"2006-01-02 15:04:05.000", "", "2026-05-04 09:30:01.500", half},
		{"Jan 2 2006 3:04:05 PM", "", "May 4 2026 9:30:01 AM", want},
		{"epoch", "", "1777887001.5", half},
		{"epoch", "ms", "1777887001500", half},
		{"epoch", "us", "1777887001500000", half},
		{"epoch", "ns", "1777887001500000000", half},
		{"YYYY-MM-DD hh:mm:ss", "", "2026-02-30 09:30:01", time.Time{}},
		{"YYYY-MM-DD hh:mm:ss", "", "2026-05-04 24:30:01", time.Time{}},
		{"YYYY-MM-DD hh:mm:ss", "", "2026-05-04 09:30:01x", time.Time{}},
		{"YYYY-MM-DD hh:mm:ss", "", "0001-05-04 09:30:01", time.Time{}},
		{"epoch", "", "1e9", time.Time{}},
		{"epoch", "s", "99999999999999999999", time.Time{}},
		{time.RFC3339, "", "9999-05-04T11:30:01Z", time.Time{}},
	} {
		m := csvfile.Map{
			Delimiter: ';',
			Time:      csvfile.TimeColumn{Column: "t", Format: c.format, Unit: c.unit},
			Columns:   []csvfile.Column{column("a", frame.Flow)},
		}
		g, _ := readAll(t, strings.NewReader("t;a\n"+c.text+";1\n"), m)
		if c.want.IsZero() {
			require.Empty(t, g.frames, c.text)
			require.Len(t, g.problems, 1, c.text)
			continue
		}
		require.Len(t, g.frames, 1, "%v", g.problems)
		require.True(t, c.want.Equal(g.wall[0]), "%s: %v", c.text, g.wall[0])
	}
}

func TestStatusColumnOfALogger(t *testing.T) {
	m := csvfile.Map{Time: csvfile.TimeColumn{Column: "t"}, Columns: []csvfile.Column{{Name: "a", Channel: frame.Flow, StatusColumn: "s"}}}
	g, _ := readAll(t, strings.NewReader("t,a,s\n0,1,good\n1,2,stale\n2,3,\n3,4,fine\n4,,failed\n5,n/a,stuck\n"), m)
	require.Equal(t, []string{"1.00", "stale", "3.00", "failed", "failed", "stuck"}, g.cells(frame.Flow))
	require.Equal(t, []int{5, 7}, g.lines())
}

func TestStrictStopsAtTheFirst(t *testing.T) {
	m := csvfile.Map{Time: csvfile.TimeColumn{Column: "t"}, Columns: []csvfile.Column{column("a", frame.Flow)}}
	for _, text := range []string{"t,a\n0,1\n1,x\n2,3\n", "t,a\n0,1\n0,2\n2,3\n"} {
		r, err := csvfile.NewReader(strings.NewReader(text), "x.csv", m, csvfile.Options{Strict: true})
		require.NoError(t, err)
		var f frame.Frame
		_, _, err = r.Next(&f)
		require.NoError(t, err)
		for range 2 {
			_, _, err = r.Next(&f)
			var row *csvfile.RowError
			require.ErrorAs(t, err, &row)
			require.Equal(t, 3, row.Line)
		}
	}
}

func TestErrorOfTheFileItself(t *testing.T) {
	broken := errors.New("the stick was pulled out")
	m := csvfile.Map{Time: csvfile.TimeColumn{Column: "t"}, Columns: []csvfile.Column{column("a", frame.Flow)}}
	in := io.MultiReader(strings.NewReader("t,a\n0,1\n"), iotest.ErrReader(broken))
	r, err := csvfile.NewReader(in, "x.csv", m, csvfile.Options{})
	require.NoError(t, err)
	var f frame.Frame
	_, _, err = r.Next(&f)
	require.NoError(t, err)
	_, _, err = r.Next(&f)
	require.ErrorIs(t, err, broken)
	require.ErrorContains(t, err, "x.csv after line 2")
}
