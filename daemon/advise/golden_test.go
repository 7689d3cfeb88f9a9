package advise_test

import (
	"bytes"
	"flag"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/advise"
)

var update = flag.Bool("update", false, "write the golden files anew")

// ask runs one command line of a topic.
func ask(topic string, args ...string) (advise.Advice, bool, error) {
	t, ok := advise.Find(topic)
	if !ok {
		return advise.Advice{}, false, os.ErrNotExist
	}
	fs := flag.NewFlagSet(topic, flag.ContinueOnError)
	fs.SetOutput(io.Discard)
	f := t.Bind(fs)
	if err := fs.Parse(args); err != nil {
		return advise.Advice{}, false, err
	}
	a, err := f.Answer()
	return a, f.JSON, err
}

// The readings of these command lines are invented.
var questions = []struct {
	name, topic string
	args        []string
}{
	{"supply-yes", "supply", []string{"-static", "62 psi", "-flowing", "4.1 gpm @ 48 psi", "-flowing", "2.2 gpm @ 57 psi"}},
	{"supply-marginal", "supply", []string{"-static", "45 psi", "-flowing", "2.1 gpm @ 9 psi", "-tank", "50 gal", "-job", "20 min"}},
	{"supply-no", "supply", []string{"-static", "30 psi", "-flowing", "1.2 gpm @ 12 psi", "-bypass-to", "inlet", "-hose-length", "150 ft", "-hose-bore", "0.5 in"}},
	{"line-fits", "line", []string{"-line", "2 in", "-hose-length", "50 ft"}},
	{"line-small", "line", []string{"-line", "4 in", "-hose-length", "150 ft", "-holes", "5"}},
	{"cord-good", "cord", []string{"-gauge", "12 AWG", "-length", "50 ft", "-current", "15 A"}},
	{"cord-long", "cord", []string{"-gauge", "14awg", "-length", "150 ft", "-current", "15 A"}},
	{"cord-metric", "cord", []string{"-gauge", "2.5 mm²", "-length", "60 m", "-current", "9 A", "-voltage", "230 V"}},
	{"unloader-down", "unloader", []string{"-current", "18.5 A", "-pressure", "1300 psi"}},
	{"unloader-fine", "unloader", []string{"-current", "14 A", "-pressure", "1300 psi"}},
	{"unloader-useless", "unloader", []string{"-current", "14 A", "-pressure", "1300 psi", "-limit", "5 A"}},
	{"breaker-between", "breaker", []string{"-current", "40 A", "-before", "0 A"}},
	{"breaker-carried", "breaker", []string{"-current", "27 A", "-carried", "5 min", "-before", "14 A"}},
	{"breaker-unknown", "breaker", []string{"-current", "23 A"}},
	{"breaker-holds", "breaker", []string{"-current", "15 A"}},
	{"breaker-iec", "breaker", []string{"-current", "41 A", "-standard", "iec60898-c", "-rating", "16 A", "-before", "0 A"}},
	{"heat-closed", "heat", []string{"-temp", "20 °C"}},
	{"heat-fresh", "heat", []string{"-temp", "20 °C", "-exchange", "0.5 L/min"}},
}

func TestGolden(t *testing.T) {
	for _, q := range questions {
		for _, form := range []struct {
			suffix string
			args   []string
		}{{".us.txt", []string{"-units", "US"}}, {".si.txt", []string{"-units", "SI"}}, {".json", []string{"-json", "-units", "SI"}}} {
			t.Run(q.name+form.suffix, func(t *testing.T) {
				a, asJSON, err := ask(q.topic, append(q.args, form.args...)...)
				require.NoError(t, err)
				var b bytes.Buffer
				if asJSON {
					require.NoError(t, a.JSON(&b))
				} else {
					require.NoError(t, a.WriteText(&b))
				}
				golden(t, filepath.Join("testdata", q.name+form.suffix), b.Bytes())
			})
		}
	}
}

func golden(t *testing.T, path string, got []byte) {
	if *update {
		require.NoError(t, os.WriteFile(path, got, 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err, "write it with -update")
	require.Equal(t, string(want), string(got))
}
