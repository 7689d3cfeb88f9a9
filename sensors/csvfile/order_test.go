package csvfile_test

import (
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

var ordered = csvfile.Map{Time: csvfile.TimeColumn{Column: "t"}, Columns: []csvfile.Column{{Name: "n", Channel: frame.Flow}}}

// log writes rows of a time and their number.
func log(times ...float64) string {
	var b strings.Builder
	b.WriteString("t,n\n")
	for i, t := range times {
		fmt.Fprintf(&b, "%s,%d\n", strconv.FormatFloat(t, 'f', -1, 64), i+1)
	}
	return b.String()
}

func TestALoneLeapCostsItsOwnRowOnly(t *testing.T) {
	for name, c := range map[string]struct {
		times []float64
		rows  []string
		at    []time.Duration
		words []string
	}{
		"one nonsense":         {[]float64{0, 1, 2, 99999, 3, 4}, []string{"1", "2", "3", "5", "6"}, []time.Duration{0, 1, 2, 3, 4}, []string{`x.csv:5: column "t": "99999" lies far ahead`}},
		"the clock set on":     {[]float64{0, 1, 2, 3600, 3601}, []string{"1", "2", "3", "4", "5"}, []time.Duration{0, 1, 2, 3600, 3601}, nil},
		"a pause":              {[]float64{0, 1, 2, 900, 901, 902}, []string{"1", "2", "3", "4", "5", "6"}, []time.Duration{0, 1, 2, 900, 901, 902}, nil},
		"at the end":           {[]float64{0, 1, 2, 99999}, []string{"1", "2", "3", "4"}, []time.Duration{0, 1, 2, 99999}, nil},
		"two in a row":         {[]float64{0, 1, 99999, 88888, 2, 3}, []string{"1", "2", "5", "6"}, []time.Duration{0, 1, 2, 3}, []string{"99999", "88888"}},
		"slow loggers":         {[]float64{0, 600, 1200, 1800}, []string{"1", "2", "3", "4"}, []time.Duration{0, 600, 1200, 1800}, nil},
		"repeated far ahead":   {[]float64{0, 1, 500, 500, 501}, []string{"1", "2", "3", "5"}, []time.Duration{0, 1, 500, 501}, []string{"repeats"}},
		"one row back":         {[]float64{0, 1, 2, 1.5, 3}, []string{"1", "2", "3", "5"}, []time.Duration{0, 1, 2, 3}, []string{"goes back in time"}},
		"set back by an hour":  {[]float64{7200, 7201, 3600, 3601, 3602, 3603, 3604, 3605}, []string{"1", "2", "7", "8"}, []time.Duration{0, 1, 61, 62}, []string{"goes back", "goes back", "goes back", "goes back", "stand 59m57s back: the clock was set"}},
		"the logger restarted": {[]float64{50, 51, 0, 1, 2, 3, 4, 5, 6}, []string{"1", "2", "7", "8", "9"}, []time.Duration{0, 1, 61, 62, 63}, []string{"goes back", "goes back", "goes back", "goes back", "the clock was set"}},
	} {
		t.Run(name, func(t *testing.T) {
			g, _ := readAll(t, strings.NewReader(log(c.times...)), ordered)
			var rows []string
			for i := range g.frames {
				rows = append(rows, strconv.Itoa(int(g.frames[i].Samples[frame.Flow].Value)))
			}
			require.Equal(t, c.rows, rows)
			require.Len(t, g.t, len(c.at))
			for i := range c.at {
				require.Equal(t, c.at[i]*time.Second, g.t[i])
			}
			require.Len(t, g.problems, len(c.words), "%v", g.problems)
			for i, want := range c.words {
				require.Contains(t, g.problems[i].Error(), want)
			}
		})
	}
}

// TestDatesStayAsWritten: after the clock was set back time goes on, and the
// dates are those in the file.
func TestDatesStayAsWritten(t *testing.T) {
	m := ordered
	m.Time.Format = "epoch"
	g, _ := readAll(t, strings.NewReader(log(1777887002, 1777887003, 1777883400, 1777883401, 1777883402, 1777883403, 1777883404, 1777883405)), m)
	require.Equal(t, time.Unix(1777883405, 0).UTC(), g.wall[len(g.wall)-1])
	require.Equal(t, 62*time.Second, g.t[len(g.t)-1])
}

// TestTimeAlwaysRunsForwards whatever the times are, and each row but for
// those reported is given once, in the file's order.
func TestTimeAlwaysRunsForwards(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		times := rapid.SliceOfN(rapid.OneOf(rapid.Float64Range(0, 10), rapid.Float64Range(0, 1e6)), 1, 60).Draw(t, "times")
		for i := range times {
			times[i] = float64(int(times[i]*1000)) / 1000
		}
		g, _ := readAll(t, strings.NewReader(log(times...)), ordered)
		skipped := 0
		for i := range g.problems {
			if g.problems[i].Skipped {
				skipped++
			}
		}
		require.Equal(t, len(times), len(g.frames)+skipped)
		for i := 1; i < len(g.t); i++ {
			require.Greater(t, g.t[i], g.t[i-1])
			require.Greater(t, g.frames[i].Samples[frame.Flow].Value, g.frames[i-1].Samples[frame.Flow].Value)
		}
	})
}
