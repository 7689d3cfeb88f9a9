package config

import (
	"encoding/csv"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// headAndFirst returns a CSV file's column numbers by name and its first row.
func headAndFirst(t *testing.T, path string, delimiter rune) (map[string]int, []string) {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comma = delimiter
	names, err := r.Read()
	require.NoError(t, err)
	first, err := r.Read()
	require.NoError(t, err)
	out := map[string]int{}
	for i, n := range names {
		out[n] = i
	}
	return out, first
}

func TestWireArea(t *testing.T) {
	for _, x := range []struct {
		text   string
		mm2    float64
		source string
	}{
		{"14 AWG", 2.08, "NEC chapter 9 table 8, from memory"},
		{"12 AWG", 3.31, "NEC chapter 9 table 8, from memory"},
		{"10 AWG", 5.261, "NEC chapter 9 table 8, from memory"},
		{"8 AWG", 8.367, "NEC chapter 9 table 8, from memory"},
		{"2.5 mm2", 2.5, "definition"},
		{"2.5mm²", 2.5, "definition"},
	} {
		a, ok := wireArea(x.text)
		require.True(t, ok, x.text)
		require.InEpsilon(t, x.mm2*1e-6, a, 1e-3, "%s (%s)", x.text, x.source)
	}
	for _, bad := range []string{"", "12", "12.5 AWG", "-1 AWG", "30 AWG", "12 awg", "x mm2", "0 mm2", "NaN AWG"} {
		_, ok := wireArea(bad)
		require.False(t, ok, bad)
	}
}

func TestByteSize(t *testing.T) {
	n, ok := byteSize("2 GB")
	require.True(t, ok)
	require.EqualValues(t, 2_000_000_000, n)
	for _, bad := range []string{"", "2", "2 gb", "0 GB", "-1 GB", "1e9 TB", "0.1 MB"} {
		_, ok := byteSize(bad)
		require.False(t, ok, bad)
	}
}

func TestLayout(t *testing.T) {
	for text, date := range map[string]string{
		"YYYY-MM-DD hh:mm:ss":    "2020-02-08 13:30:47",
		"YYYY-MM-DDThh:mm:sszzz": "2020-02-08T13:30:47.25Z",
		"DD.MM.YYYY, hh:mm:ss":   "08.02.2020, 13:30:47,5",
		"MM/DD/YYYY hh:mm:ss":    "02/08/2020 13:30:47",
		"YYYYMMDD hhmmss":        "20200208 133047",
	} {
		l, ok := layout(text)
		require.True(t, ok, text)
		at, err := time.Parse(l, date)
		require.NoError(t, err, text)
		require.Equal(t, time.Date(2020, 2, 8, 13, 30, 47, 0, time.UTC), at.Truncate(time.Second), text)
	}
	for _, bad := range []string{"", "YYYY-MM-DD", "2006-01-02 15:04:05", "YYYY-MM-DD hh:mm:ss 1", "YY-MM-DD hh:mm:ss", "YYYY-MM-DD hh:mm:ss Jan"} {
		_, ok := layout(bad)
		require.False(t, ok, bad)
	}
}

func TestEditDistance(t *testing.T) {
	for _, x := range []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"abc", "abc", 0}, {"kitten", "sitting", 3}, {"water_tmep", "water_temp", 1},
		{"flow", "flaw", 1}, {"a", "", 1}, {"", "ab", 2}, {"ca", "abc", 3},
	} {
		require.Equal(t, x.want, editDistance(x.a, x.b, 100), "%s %s", x.a, x.b)
	}
	word := rapid.StringMatching(`[a-c_]{0,8}`)
	rapid.Check(t, func(t *rapid.T) {
		a, b := word.Draw(t, "a"), word.Draw(t, "b")
		d := editDistance(a, b, 100)
		require.Equal(t, d, editDistance(b, a, 100), "symmetric")
		require.Equal(t, a == b, d == 0, "0 only for the same")
		require.LessOrEqual(t, d, max(len(a), len(b)))
	})
}

func TestNearestKeepsSilentWhenFar(t *testing.T) {
	_, ok := nearest("zzzzzz", []string{"machine", "motor"})
	require.False(t, ok)
	best, ok := nearest("moter", []string{"machine", "motor"})
	require.True(t, ok)
	require.Equal(t, "motor", best)
}

func TestPattern(t *testing.T) {
	for path, want := range map[string]string{
		"machine.name":        "machine.name",
		"csv.column[12].name": "csv.column[].name",
		"csv.column[3]":       "csv.column[]",
		`x."[1"`:              `x."[1"`,
	} {
		p, _ := pattern(path)
		require.Equal(t, want, p)
	}
	_, i := pattern("csv.column[12].name")
	require.Equal(t, 11, i)
}

func TestDatePatterns(t *testing.T) {
	for text, ok := range map[string]bool{
		"YYYY-MM-DD hh:mm:ss": true, "M/D/YYYY h:mm:ss AM": true, "D.M.YYYY hh:mm:ss": true, "MM/DD/YYYY hh:mm:ss PM": true,
		"M/D/YY hh:mm:ss": false, "M/D/YYYY": false, "M/M/D/YYYY h:mm:ss": false, "M/D/YYYY h:mm:ss AM PM": false, "Month D YYYY h:mm:ss": false, "": false,
	} {
		_, got := layout(text)
		require.Equal(t, ok, got, text)
	}
}
