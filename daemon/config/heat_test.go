package config

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
)

// An invented motor of 14 A.
const heatedMotor = `[machine]
drive = "electric"
[motor]
rated_current = "14 A"
trip_class = 10
service_factor = %s
[rules.motor_heat]
%s
`

// A motor at its plate's current levels off at 1/k², k being the service
// factor but no less than a relay's 1.05, and must not be warned of.
func TestTheWarningOfHeatLiesAboveThePlatesCurrent(t *testing.T) {
	for _, c := range []struct {
		factor, line string
		warn         float64
		noted        bool
		source       string
	}{
		{"1.0", "", 0.9535, false, "IEC 60255-149 with k 1.05 of IEC 60947-4-1: 0.9070, halfway to 1"},
		{"1.05", "", 0.9535, false, "the same"},
		{"1.15", "", 0.85, false, "1/1.15² = 0.756 leaves room enough"},
		{"1.0", `warn = "93 %"`, 0.93, false, "what is written stands"},
		{"1.0", `warn = "85 %"`, 0.85, true, "what is written stands, but below 0.907 it never goes back"},
		{"1.0", `act = "95 %"`, 0.9285, false, "halfway from 0.907 to 0.95"},
		{"1.0", "warn = \"85 %\"\non = false", 0.85, false, "nobody asks for it"},
	} {
		cfg, problems := Parse("x.toml", []byte(fmt.Sprintf(heatedMotor, c.factor, c.line)))
		require.Empty(t, Mistakes(problems), c.source)
		require.InDelta(t, c.warn, cfg.Engine.Rules[engine.MotorHeat].Warn, 5e-5, c.source)
		noted := false
		for _, p := range problems {
			noted = noted || strings.Contains(p.String(), "warned of for ever")
		}
		require.Equal(t, c.noted, noted, c.source)
	}
}
