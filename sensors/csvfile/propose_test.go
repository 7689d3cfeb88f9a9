package csvfile_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

// What is proposed reads the file that it was proposed for; the files are
// invented, their shapes common practice, no source.
func TestProposalReadsItsFile(t *testing.T) {
	for _, c := range []struct {
		name, text string
		time       csvfile.TimeColumn
		channels   []frame.Channel
		open       []string
		doubt      string
	}{
		{
			"a logger with a preamble, units and a.m.",
			"Logger,7\nFirmware,1.2\n\nDate,Time,Inlet,Water Temp,Flow,Remark\n,,psi,degF,gpm,\n3/14/2026,1:05:07 PM,40.1,61,2.0,\n3/14/2026,1:05:08 PM,40.2,61,2.1,x\n",
			csvfile.TimeColumn{Column: "Time", DateColumn: "Date", Format: "M/D/YYYY h:mm:ss AM"},
			[]frame.Channel{frame.InletPressure, frame.WaterTemp, frame.Flow}, []string{"Remark"}, "",
		},
		{
			"a spreadsheet with decimal commas",
			"Zeit;Inlet pressure (bar);Motor current [A]\n14.03.2026 13:05:07;2,81;13,2\n14.03.2026 13:05:08;2,80;13,1\n",
			csvfile.TimeColumn{Column: "Zeit", Format: "D.M.YYYY hh:mm:ss"}, []frame.Channel{frame.InletPressure, frame.MotorCurrent}, nil, "",
		},
		{
			"elapsed time", "t (s)\tpump rpm\tDischarge psi\n0\t1720\t1300\n0.5\t1722\t1301\n",
			csvfile.TimeColumn{Column: "t (s)", Unit: "s"}, []frame.Channel{frame.ShaftSpeed, frame.OutletPressure}, nil, "",
		},
		{
			"seconds since 1970", "Time (s),Flow (L/min)\n1777887001.5,7.5\n1777887002.5,7.4\n",
			csvfile.TimeColumn{Column: "Time (s)", Format: "epoch", Unit: "s"}, []frame.Channel{frame.Flow}, nil, "",
		},
		{
			"milliseconds since 1970", "time_ms,Flow (L/min)\n1777887001500,7.5\n1777887002500,7.4\n",
			csvfile.TimeColumn{Column: "time_ms", Format: "epoch", Unit: "ms"}, []frame.Channel{frame.Flow}, nil, "",
		},
		{
			"a date that can be read in two ways", "Time,Flow (L/min),Inlet\n03/04/2026 13:05:07,7.5,40\n03/04/2026 13:05:08,7.4,41\n",
			csvfile.TimeColumn{Column: "Time", Format: "M/D/YYYY hh:mm:ss"}, []frame.Channel{frame.Flow}, []string{"Inlet"}, "day first",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, err := csvfile.Propose(strings.NewReader(c.text))
			require.NoError(t, err)
			require.Equal(t, c.time, p.Map.Time)
			require.Contains(t, strings.Join(p.Doubts, " "), c.doubt)
			require.Equal(t, c.doubt == "", len(p.Doubts) == 0, p.Doubts)
			var open []string
			for _, o := range p.Open {
				open = append(open, o.Name)
			}
			require.Equal(t, c.open, open)
			r, err := csvfile.NewReader(strings.NewReader(c.text), "x", p.Map, csvfile.Options{Strict: true})
			require.NoError(t, err)
			require.Equal(t, c.channels, r.Channels())
			for range 2 {
				var f frame.Frame
				_, _, err = r.Next(&f)
				require.NoError(t, err)
				for _, ch := range c.channels {
					require.Equal(t, frame.Good, f.Samples[ch].Status, ch.String())
				}
			}
		})
	}
}

func TestProposalRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"":                          "empty",
		"just a letter\nto a man\n": "no table",
		"\xff\xfet\x00":             "UTF-16",
		"Temp \xb0C,t\n1,2\n3,4\n":  "not UTF-8",
	} {
		_, err := csvfile.Propose(strings.NewReader(text))
		require.ErrorContains(t, err, want)
	}
}

func FuzzPropose(f *testing.F) {
	f.Add("Date,Time,Inlet\n,,psi\n3/14/2026,1:05:07 PM,40.1\n3/14/2026,1:05:08 PM,40\n")
	f.Add("a;b\n1,5;2\n")
	f.Fuzz(func(t *testing.T, text string) {
		p, err := csvfile.Propose(strings.NewReader(text))
		if err != nil {
			return
		}
		require.NotEmpty(t, p.Text())
		if p.Map.Time.Column != "" && len(p.Map.Columns) > 0 {
			require.NoError(t, p.Map.Validate())
		}
	})
}

// A file that looks most like a table and is none takes no longer than a few
// looks at its first lines.
func BenchmarkProposeWide(b *testing.B) {
	row := strings.Repeat("1/2,3:4,", 2000) + "x\n"
	text := strings.Repeat("a,b\n", 100) + strings.Repeat("n,", 4000) + "n\n" + strings.Repeat(row, 200)
	for b.Loop() {
		_, _ = csvfile.Propose(strings.NewReader(text))
	}
}
