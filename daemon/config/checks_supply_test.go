package config

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestCheckNamesWhatJudgesTheSupply: flow_short takes a supply for sound by the
// inlet rule and by NPSH, and says so where it has neither.
func TestCheckNamesWhatJudgesTheSupply(t *testing.T) {
	const says = "rules.inlet_low: is off and machine.npsh_assumed is not set, so flow_short can't tell"
	for _, c := range []struct {
		more string
		want bool
	}{
		{"", false},
		{"[rules.inlet_low]\non = false\n", true},
		{"[rules.inlet_low]\non = false\n[rules.flow_short]\non = false\n", false},
		{"[rules.inlet_low]\non = false\n[channels.inlet_pressure]\nfitted = false\n", false},
	} {
		_, problems := Parse("x", []byte(onAMachine+c.more))
		if text := render(problems); c.want {
			require.Contains(t, text, says, c.more)
		} else {
			require.NotContains(t, text, says, c.more)
		}
	}
}

// TestCheckNamesTapLimitsOnATank: a tank's head is a few kilopascals (998
// kg/m3 x 9.81 m/s2 x 1 m = 9.8 kPa), far below a tap's 70 kPa.
func TestCheckNamesTapLimitsOnATank(t *testing.T) {
	const (
		tank   = "[channels.tank_level]\nfitted = true\n"
		limits = "[rules.inlet_low]\nwarn = \"-15 kPa\"\nact = \"-30 kPa\"\nspan = \"30 kPa\"\n"
		fed    = "[states]\nfed_inlet = \"2 kPa\"\n"
		low    = "rules.inlet_low: has the limits of a tap, 70 kPa and 20 kPa"
		closed = "states.fed_inlet: is a tap's"
	)
	for _, c := range []struct {
		more        string
		low, closed bool
	}{
		{"", false, false},
		{tank, true, true},
		{tank + limits, false, true},
		{tank + fed, true, false},
		{tank + limits + fed, false, false},
		{tank + "[rules.inlet_low]\non = false\n", false, true},
	} {
		_, problems := Parse("x", []byte(onAMachine+c.more))
		text := render(problems)
		require.Equal(t, c.low, strings.Contains(text, low), "%s\n%s", c.more, text)
		require.Equal(t, c.closed, strings.Contains(text, closed), "%s\n%s", c.more, text)
	}
}
