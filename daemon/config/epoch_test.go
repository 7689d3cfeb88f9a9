package config

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A number that counts from 1970 is a date with a unit; no other format has one.
func TestTimeSince1970(t *testing.T) {
	const head, columns = "base = \"bare\"\n[csv.time]\ncolumn = \"t\"\n", `
[[csv.column]]
name = "Q"
channel = "flow"
unit = "L/min"
[channels.flow]
fitted = true
`
	for _, c := range []struct{ lines, trouble string }{
		{"format = \"epoch\"\n", ""}, // seconds
		{"format = \"epoch\"\nunit = \"ms\"\n", ""},
		{"unit = \"ms\"\n", ""},
		{"format = \"epoch\"\ndate_column = \"d\"\n", "no place beside a number"},
		{"format = \"YYYY-MM-DD hh:mm:ss\"\nunit = \"ms\"\n", "has a format and a unit"},
		{"format = \"Epoch\"\n", "is no format of a date and time"},
	} {
		cfg, problems := Parse("x.toml", []byte(head+c.lines+columns))
		var told []string
		for _, p := range Mistakes(problems) {
			told = append(told, p.String())
		}
		if c.trouble != "" {
			require.Contains(t, strings.Join(told, "\n"), c.trouble, c.lines)
			continue
		}
		require.Empty(t, told, c.lines)
		require.Equal(t, strings.Contains(c.lines, Epoch), cfg.CSV.Time.Format == Epoch, c.lines)
	}
}
