package config

import (
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
