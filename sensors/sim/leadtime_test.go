package sim_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/sensors/plant"
	"headroom/sensors/scenario"
)

// TestLeadTime: where nobody reacts, the modelled machine is damaged, and the
// first alarm comes well before. The least lead is reasoned from the damage
// model's own assumptions and the rules' delays.
func TestLeadTime(t *testing.T) {
	const start = `
title = "Nobody reacts"
invented = true
seed = 5
end = "30:00"
timeline = ["0:05 tap on", "0:10 trigger open", "0:20 switch on", `
	for _, c := range []struct {
		name, fault string
		mode        plant.Mode
		leastS      float64
		why         string
	}{
		{"dry run", `"1:00 fault supply_shut"]`, plant.DryRun, 25, "30 s dry less 1 s of delay and 2 s of filters"},
		{"cavitation", `"1:00 fault kinked_hose 98.7 %"]`, plant.Cavitation, 300, "300 s of half-empty cylinders, and these are fuller"},
		{"hand off the trigger", `"1:00 trigger shut"]
[machine]
bypass_loop = "0.5 L"
bypass_pressure = "8 MPa"`, plant.Overheat, 120, "60 s after the shutting against some 150 s to 60 C and more than 30 s beyond"},
		{"overpressure", `"0:50 fault unloader_up 100 %", "1:00 fault blocked_nozzle 60 % over 60 s"]`, plant.Overpressure, 5, "105 % to 150 % of the pressure while the nozzle clogs within a minute"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s, err := scenario.Parse("leadtime", []byte(start+c.fault+"\n"))
			require.NoError(t, err)
			o := play(t, s)
			require.True(t, o.plant.Damage.Done[c.mode], "the machine survived: used %v", o.plant.Damage.Used)
			first := firstAfter(o.log, 60)
			lead := o.plant.Damage.AtS[c.mode] - first.At.Seconds()
			require.GreaterOrEqual(t, lead, c.leastS, c.why)
			t.Logf("%s came %.0f s before the damage", first.Alarm, lead)
		})
	}
}

func firstAfter(log []scenario.Happened, seconds float64) scenario.Happened {
	for _, h := range log {
		if h.Raised && h.At.Seconds() >= seconds {
			return h
		}
	}
	return scenario.Happened{}
}
