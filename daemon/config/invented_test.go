package config

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/circuit/breaker"
	"headroom/rules/engine"
	"headroom/rules/frame"
)

// onAMachine is a real machine of which the file gives only the pump.
const onAMachine = `[machine]
rated_flow = "4 gpm"
rated_pressure = "3000 psi"
[simulator]
on = false
[[sensors.thermometer]]
channel = "water_temp"
serial = "28-000000123456"
[[sensors.pulse]]
channel = "flow"
line = "FLOW"
k_factor = "450/L"
max_frequency = "300 Hz"
[[sensors.modbus]]
channel = "motor_current"
port = "/dev/ttyUSB0"
station = 1
register = 0
type = "u16"
unit = "A"
[[sensors.modbus]]
channel = "inlet_pressure"
port = "/dev/ttyUSB0"
station = 2
register = 0
type = "u16"
unit = "kPa"
`

// TestTheInventedPlateJudgesNoRealMachine: what the file doesn't say of a real
// machine is not set, and each rule that needs it names the key.
func TestTheInventedPlateJudgesNoRealMachine(t *testing.T) {
	for name, text := range map[string]string{
		"sensors":   onAMachine,
		"recording": "csv.column = [{ name = \"A\", channel = \"motor_current\", unit = \"A\" }]\ncsv.time = { column = \"t\", unit = \"s\" }\n[machine]\nrated_flow = \"4 gpm\"\nrated_pressure = \"3000 psi\"\n",
	} {
		t.Run(name, func(t *testing.T) {
			c, problems := Parse("x", []byte(text))
			require.Empty(t, Mistakes(problems))
			require.False(t, c.Simulator.On)
			p, m := &c.Engine.Plant, &c.Engine.Machine
			require.Equal(t, Motor{}, c.Motor)
			require.Equal(t, Cord{}, c.Cord)
			require.Equal(t, Hose{}, c.SupplyHose)
			require.Equal(t, Hose{}, c.PressureHose)
			require.Zero(t, c.Circuit.RatingA+c.Circuit.VoltageV)
			require.Equal(t, breaker.StandardUnknown, p.Breaker.Standard)
			require.Zero(t, p.NozzleFactor+p.HoseCoefficient+p.CordOhm+p.RatedA+p.InletLineM+p.Overload.RatedA+p.Start.RatedA)
			require.Zero(t, m.DisplacementM3+m.RatedSpeedHz+m.AssumedNPSHRM+m.BypassPowerW+m.BypassVolumeM3+m.InletBoreM+m.CircuitA)
			require.InEpsilon(t, 4*3.785411784e-3/60, m.RatedFlowM3s, 1e-9, "US gallon: 231 in3, NIST SP 811")
			require.NotEqual(t, Default().Name, c.Name)

			for r, key := range map[engine.RuleID]string{
				engine.CircuitLoad: "circuit.rating", engine.BreakerTime: "circuit.rating", engine.MotorHeat: "motor.rated_current",
				engine.MotorVoltage: "motor.voltage", engine.StartJam: "motor.rated_current", engine.Discharge: "nozzle.orifice_number",
				engine.NPSHMargin: "machine.npsh_assumed", engine.FlowShort: "machine.rated_speed", engine.Wear: "machine.rated_speed",
				engine.PowerLost: "motor.rated_current", engine.NoFlow: "", engine.OutletHigh: "", engine.InletLow: "", engine.WaterHot: "",
			} {
				require.Equal(t, key, c.Engine.Rules[r].Lacks, r)
			}
			e, err := engine.New(allFitted(c.Engine))
			require.NoError(t, err)
			v := e.Step(new(engine.State), working(), 0)
			for r := range engine.NumRules {
				l, got := &c.Engine.Rules[r], &v.Rules[r]
				if r == engine.PowerLost {
					require.Equal(t, engine.Watching, got.Judge, "a sensor of power needs no plate")
					continue
				}
				require.Equal(t, l.Lacks != "" || r == engine.Departure && l.On, got.Judge == engine.NotSet, "%s: %s", r, got.Why())
				if l.Lacks != "" {
					require.Contains(t, got.Why(), l.Lacks)
				}
			}
		})
	}
}

// working is a pump at work, every sensor well.
func working() *frame.Frame {
	f := &frame.Frame{}
	for ch := range frame.NumChannels {
		f.Samples[ch] = frame.Sample{Status: frame.Good, Value: 1}
	}
	f.Samples[frame.WaterTemp].Value, f.Samples[frame.AmbientTemp].Value, f.Samples[frame.MotorTemp].Value = 290, 290, 300
	f.Samples[frame.InletPressure].Value, f.Samples[frame.AirPressure].Value = 200e3, 100e3
	f.Samples[frame.Flow].Value, f.Samples[frame.TankLevel].Value = 1e-4, 0.5
	return f
}

func allFitted(c engine.Config) engine.Config {
	for ch := range c.Signals {
		c.Signals[ch].Fitted = true
	}
	return c
}

// TestCheckNamesWhatARealMachineLacks with its key.
func TestCheckNamesWhatARealMachineLacks(t *testing.T) {
	_, problems := Parse("x", []byte(onAMachine))
	text := render(problems)
	for _, want := range []string{
		"rules.circuit_load: not watching: circuit.rating is not set", "rules.motor_heat: not watching: motor.rated_current is not set",
		"rules.npsh_margin: not watching: machine.npsh_assumed is not set", "rules.flow_short: not watching: machine.rated_speed is not set",
		"states.run_current: is not set and the motor's plate neither, so the pump is taken to turn above 3.0 A, which is assumed",
	} {
		require.Contains(t, text, want)
	}
}

// TestAWrittenPlateHolds: the default file, copied and switched over from the
// simulator, says it all itself.
func TestAWrittenPlateHolds(t *testing.T) {
	const on = "\non = true  # so that this file runs without a machine\n"
	require.Equal(t, 1, strings.Count(string(defaultTOML), on))
	got, problems := Parse("x", []byte(strings.Replace(string(defaultTOML), on, "\non = false\n", 1)))
	require.Empty(t, problems)
	require.False(t, got.Simulator.On)
	want := Default()
	for ch := range want.Engine.Signals {
		want.Engine.Signals[ch].Bus = 0 // the simulator's converter goes with the simulator
	}
	require.Equal(t, want.Engine, got.Engine)
	require.Equal(t, want.Motor, got.Motor)
}

// TestAPlateThatContradictsItselfIsNoted: 230 V current typed for 115 V.
// Source: NFPA 70 table 430.248, 1.5 hp.
func TestAPlateThatContradictsItselfIsNoted(t *testing.T) {
	plate := func(amps, volts string) string {
		_, problems := Parse("x", []byte("[motor]\nrated_power = \"1.5 hp\"\nno_load_current = \"4 A\"\nrated_current = \""+amps+"\"\nvoltage = \""+volts+"\"\n"))
		require.Empty(t, Mistakes(problems))
		return render(problems)
	}
	require.Contains(t, plate("10 A", "115 V"), "motor.rated_current: is 50 % of what NFPA 70")
	require.Contains(t, plate("20 A", "230 V"), "is 200 % of")
	require.NotContains(t, plate("20 A", "115 V"), "NFPA")
	require.NotContains(t, plate("15 A", "120 V"), "NFPA")
}

// TestTurningFollowsFromThePlate: half of the no-load current, or a fifth of
// the rated one; common practice, no source.
func TestTurningFollowsFromThePlate(t *testing.T) {
	c, problems := Parse("x", []byte(onAMachine+"[motor]\nrated_current = \"12 A\"\nno_load_current = \"5 A\"\n"))
	require.Empty(t, Mistakes(problems))
	require.InDelta(t, 2.5, c.Engine.Machine.RunCurrentA, 0)
	c, _ = Parse("x", []byte(onAMachine+"[motor]\nrated_current = \"12 A\"\n"))
	require.InDelta(t, 2.4, c.Engine.Machine.RunCurrentA, 1e-12)
	require.Contains(t, strings.Join(c.Remarks, "\n"), "taken to turn above 2.4 A")
	c, _ = Parse("x", []byte(onAMachine+"[motor]\nno_load_current = \"5 A\"\n[states]\nrun_current = \"0 A\"\n"))
	require.Zero(t, c.Engine.Machine.RunCurrentA)
}
