package scenario_test

import (
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/frame"
	"headroom/sensors/plant"
	"headroom/sensors/scenario"
)

const folder = "../../testdata/scenarios"

// file puts lines into the smallest file that is complete.
func file(timeline, rest string) string {
	return "title = \"t\"\ninvented = true\nseed = 3\nend = \"2:00\"\ntimeline = [\n" + timeline + "\n]\n" + rest
}

func parse(t *testing.T, text string) *scenario.Scenario {
	t.Helper()
	s, err := scenario.Parse("x.toml", []byte(text))
	require.NoError(t, err)
	return s
}

func TestParse(t *testing.T) {
	s := parse(t, file(`
		"0:05 tap 50 %",
		"0:10.5 trigger open",
		"0:20 fault kinked_hose 80 % over 10 s until 1:00",
		"0:30 fault sensor_drift -5 °F on water_temp over 1 min",
	`, `
		expect = ["inlet_low.warn between 0:20 and 0:40 cleared by 1:10", "sensor.flow between 0:01 and 0:02", "cavitation maybe"]
		[machine]
		supply_pressure = "60 psi"
		altitude = "5000 ft"
		cord_gauge_awg = 14
		cord_length = "100 ft"
		nozzle_area = "50 %"
		engine = true
	`))
	require.Equal(t, 2*time.Minute, s.Duration)
	require.Equal(t, uint64(3), s.Seed)
	require.Equal(t, scenario.Step{At: 5 * time.Second, Action: scenario.Tap, Amount: 0.5}, s.Steps[0])
	require.Equal(t, 10500*time.Millisecond, s.Steps[1].At)
	require.Equal(t, scenario.Fault{
		Kind: scenario.KinkedHose, At: 20 * time.Second, Ramp: 10 * time.Second, Until: time.Minute, Amount: 0.8, Channel: frame.NumChannels,
	}, s.Faults[0])
	require.Equal(t, frame.WaterTemp, s.Faults[1].Channel)
	require.InDelta(t, -5/1.8, s.Faults[1].Amount, 1e-9)
	require.Equal(t, []string{"inlet_low.warn", "sensor.flow", "cavitation"}, []string{s.Expects[0].String(), s.Expects[1].String(), s.Expects[2].String()})
	require.Equal(t, 70*time.Second, s.Expects[0].ClearedBy)
	require.True(t, s.Expects[2].Maybe)
	require.InDelta(t, 413685, s.Machine.Supply.StaticGaugePa, 1)
	require.InDelta(t, 84307, s.Machine.AirAbsPa, 10, "5000 ft, ISO 2533")
	require.Equal(t, plant.Engine, s.Machine.Drive.Kind)
	require.InEpsilon(t, plant.Typical().Outlet.NozzleAreaM2/2, s.Machine.Outlet.NozzleAreaM2, 1e-12)
	ohm, _ := plant.CordOhm(14, 30.48)
	require.Equal(t, ohm, s.Machine.Circuit.CordOhm)
}

// TestErrors: every mistake is told with its file, its line and the mend.
func TestErrors(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"no title", "invented = true\nend = \"1:00\"\n", `x.toml:1: the scenario has no title; add title`},
		{"not invented", "title = \"t\"\nend = \"1:00\"\n", `x.toml:1: only invented jobs belong here; add invented = true`},
		{"no end", "title = \"t\"\ninvented = true\n", `add for example end = "3:00"`},
		{"toml", "title = \"t\"\ninvented = yes\n", "x.toml:2: "},
		{"unknown key", file("", "colour = 1"), `x.toml:8: there is no setting "colour"`},
		{"unknown machine key", file("", "[machine]\nsuply_temp = \"1 K\""), `x.toml:9: there is no setting "machine.suply_temp"`},
		{"bad point", file(`"later tap on",`, ""), `x.toml:6: "later" is not a point in time; write minutes and seconds since the start, for example 1:05`},
		{"60 s", file(`"0:60 tap on",`, ""), `x.toml:6: "0:60" is not a point`},
		{"nobody", file(`"0:01 tap on",`+"\n"+`"0:02 dance",`, ""), `x.toml:7: nobody can "dance"; write "fault NAME ..."`},
		{"no act", file(`"0:01",`, ""), `x.toml:6: "0:01": write a time and what happens then`},
		{"no fault", file(`"0:01 fault leak",`, ""), `x.toml:6: there is no fault "leak"; write one of kinked_hose`},
		{"which fault", file(`"0:01 fault",`, ""), `x.toml:6: which fault?`},
		{"no amount", file(`"0:01 fault kinked_hose",`, ""), `x.toml:6: kinked_hose: how much?`},
		{"amount", file(`"0:01 fault power_cut 5 %",`, ""), `x.toml:6: power_cut has no amount; leave out "5 %"`},
		{"unit", file(`"0:01 fault hot_supply 60 psi",`, ""), `x.toml:6: hot_supply: how much? "60 psi": the unit "psi" is not one of K`},
		{"range", file(`"0:01 fault kinked_hose 120 %",`, ""), `x.toml:6: kinked_hose: "120 %" lies outside 0 to 1`},
		{"channel", file(`"0:01 fault sensor_stuck on flux",`, ""), `x.toml:6: there is no channel "flux"`},
		{"no channel", file(`"0:01 fault sensor_stuck",`, ""), `x.toml:6: sensor_stuck needs a channel; write for example "on flow"`},
		{"needless channel", file(`"0:01 fault power_cut on flow",`, ""), `x.toml:6: power_cut concerns no single channel`},
		{"until", file(`"0:10 fault power_cut until 0:05",`, ""), `x.toml:6: the fault would end at 0:05, before it began`},
		{"over", file(`"0:10 fault worn_valves 5 % over 3",`, ""), `x.toml:6: "3" has no unit`},
		{"tap", file(`"0:10 tap 200 %",`, ""), `x.toml:6: "200 %": a tap opens from 0 % to 100 %`},
		{"order", file(`"0:10 tap on",`+"\n"+`"0:05 tap off",`, ""), `x.toml:7: "0:05 tap off" stands after a later line`},
		{"after the end", file(`"3:00 tap on",`, ""), `x.toml:6: "3:00 tap on" comes after the end at 2:00.0; move the end`},
		{"expect", file("", `expect = ["inlet_low.warn at 0:10"]`), `x.toml:8: "inlet_low.warn at 0:10": write "inlet_low.warn between 1:10 and 1:25"`},
		{"stage", file("", `expect = ["inlet_low.high maybe"]`), `x.toml:8: "inlet_low.high": a stage is warn or act`},
		{"alarm", file("", `expect = ["Inlet! maybe"]`), `x.toml:8: "Inlet!" is not the name of an alarm`},
		{"sensor", file("", `expect = ["sensor.flux maybe"]`), `x.toml:8: "sensor.flux": there is no channel "flux"`},
		{"window", file("", `expect = ["bypass.act between 0:20 and 0:10"]`), `x.toml:8: bypass.act: 0:10 lies before 0:20; swap them`},
		{"cleared", file("", `expect = ["bypass.act between 0:20 and 0:30 cleared by 0:10"]`), `x.toml:8: bypass.act: it cannot be cleared before it may come`},
		{"late", file("", `expect = ["bypass.act between 3:00 and 3:10"]`), `x.toml:8: the alarm bypass.act is expected after the end at 2:00.0`},
		{"twice", file("", `expect = ["bypass.act maybe", "bypass.act maybe"]`), `x.toml:8: the alarm bypass.act is listed twice`},
		{"baseline", file("", `baseline = ["95 %"]`), `x.toml:8: "95 %": write for example "1725 rpm, 8.2 MPa, 15 °C: 95 %"`},
		{"under what", file("", `expect = ["bypass.act under x.y maybe"]`), `x.toml:8: "x.y": a stage is warn or act`},
		{"machine", file("", "[machine]\nline_voltage = \"5 V\""), `x.toml:9: "5 V" lies outside 50 V to 500 V`},
		{"cord", file("", "[machine]\ncord_gauge_awg = 99"), `x.toml:8: no cord of 99 AWG`},
		{"ice", file("", "[machine]\nsupply_temp = \"-5 °C\""), `ice does not flow`},
		{"tank", file("", "[machine]\ntank = \"50 L\""), `x.toml:8: the plant's tank has no depth`},
	} {
		_, err := scenario.Parse("x.toml", []byte(c.text))
		require.ErrorContains(t, err, c.want, c.name)
		require.NotContains(t, err.Error(), "\n", c.name)
	}
	_, err := scenario.Parse("x.toml", make([]byte, 2<<20))
	require.ErrorContains(t, err, "no scenario")
	_, err = scenario.Load(os.DirFS(folder), "nothing.toml")
	require.ErrorContains(t, err, "cannot open scenario nothing.toml")
}

func TestInputs(t *testing.T) {
	s := parse(t, file(`
		"0:05 tap on",
		"0:10 fault kinked_hose 80 % over 10 s until 1:00",
		"0:20 fault low_voltage 90 V",
		"0:30 fault supply_shut until 0:40",
		"0:50 breaker reset",
		"1:00 fault blocked_nozzle 25 %",
		"1:10 nozzle off",
	`, ""))
	at := func(seconds float64) (in plant.Inputs) {
		s.Inputs(time.Duration(seconds*float64(time.Second)), &in)
		return in
	}
	require.Equal(t, plant.Idle(), at(0))
	require.Equal(t, 1.0, at(5).TapOpen)
	require.Zero(t, at(9.99).Kink)
	require.InDelta(t, 0.4, at(15).Kink, 1e-12)
	require.InDelta(t, 0.8, at(20).Kink, 1e-12)
	require.Zero(t, at(60).Kink, "until is the first moment without")
	require.InDelta(t, 0.75, at(20).LineScale, 1e-12)
	require.Zero(t, at(35).TapOpen)
	require.Equal(t, 1.0, at(40).TapOpen)
	require.True(t, at(50.5).ResetBreaker)
	require.False(t, at(51).ResetBreaker)
	require.InDelta(t, 0.75, at(65).NozzleScale, 1e-12)
	require.True(t, at(70).NozzleOff)
}

// TestEveryFaultDoesSomething: no fault is a word without effect.
func TestEveryFaultDoesSomething(t *testing.T) {
	amounts := map[string]string{
		"hot_supply": "50 °C", "hot_hose": "10 K", "inlet_air_leak": "1 mm", "low_voltage": "100 V",
		"supply_shut": "", "power_cut": "", "sensor_bus_off": "",
		"sensor_wire_off": "on flow", "sensor_stuck": "on flow", "sensor_drift": "1 L/min on flow",
	}
	for _, name := range scenario.FaultNames() {
		amount, ok := amounts[name]
		if !ok {
			amount = "20 %"
		}
		s := parse(t, file(`"0:05 tap on", "0:10 fault `+name+` `+amount+`",`, ""))
		var before, after plant.Inputs
		s.Inputs(9*time.Second, &before)
		s.Inputs(11*time.Second, &after)
		changed := before != after || s.Trouble(frame.Flow, 11*time.Second) != scenario.Trouble{}
		require.True(t, changed, name)
	}
}

func TestCheck(t *testing.T) {
	s := parse(t, file("", `expect = ["inlet_low.act between 0:10 and 0:20 cleared by 1:00", "inlet_low.act between 1:10 and 1:20",
		"npsh_margin.act under inlet_low.act between 0:10 and 0:20", "cavitation under inlet_low.act maybe"]`))
	up := func(alarm string, at, gone int, under string, called bool) scenario.Happened {
		return scenario.Happened{Alarm: alarm, At: time.Duration(at) * time.Second, Gone: time.Duration(gone) * time.Second, Under: under, Called: called}
	}
	root, again := up("inlet_low.act", 15, 50, "", true), up("inlet_low.act", 75, 0, "", true)
	under := up("npsh_margin.act", 15, 50, "inlet_low.act", false)
	for _, c := range []struct {
		name string
		log  []scenario.Happened
		want string
	}{
		{"as expected", []scenario.Happened{root, under, again}, ""},
		{"maybe", []scenario.Happened{root, under, up("cavitation.warn", 16, 20, "inlet_low.act", false), again}, ""},
		{"never", []scenario.Happened{root, again}, "npsh_margin.act is expected between 0:10.0 and 0:20.0 and never came"},
		{"not a second time", []scenario.Happened{root, under}, "inlet_low.act is expected between 1:10.0 and 1:20.0 and never came"},
		{"early", []scenario.Happened{up("inlet_low.act", 5, 50, "", true), under, again}, "inlet_low.act came at 0:05.0 and nobody expected it"},
		{"twice in a window", []scenario.Happened{up("inlet_low.act", 12, 13, "", true), root, under, again}, "once and came 2 times"},
		{"stays", []scenario.Happened{up("inlet_low.act", 15, 0, "", true), under, again}, "should be gone by 1:00.0"},
		{"other", []scenario.Happened{root, under, up("bypass.act", 16, 0, "", true), again}, "bypass.act came at 0:16.0 and nobody expected it"},
		{"loose", []scenario.Happened{root, up("npsh_margin.act", 15, 50, "", true), again}, "npsh_margin.act of 0:15.0 stood by itself and should stand under inlet_low.act"},
		{"under", []scenario.Happened{up("inlet_low.act", 15, 50, "tank_low.act", false), under, again}, "stood under tank_low.act and should stand by itself"},
		{"elsewhere", []scenario.Happened{root, up("npsh_margin.act", 15, 50, "no_flow.act", false), again}, "stood under no_flow.act and should stand under inlet_low.act"},
		{"silent", []scenario.Happened{up("inlet_low.act", 15, 50, "", false), under, again}, "should call and did not"},
		{"loud", []scenario.Happened{root, up("npsh_margin.act", 15, 50, "inlet_low.act", true), again}, "npsh_margin.act of 0:15.0 is a consequence and called"},
		{"came first", []scenario.Happened{root, up("npsh_margin.act", 14, 50, "inlet_low.act", true), again}, ""},
		{"nagging", []scenario.Happened{{Alarm: "inlet_low.act", At: root.At, Gone: root.Gone, Called: true, Again: 2}, under, again}, "called 2 times more"},
	} {
		got := strings.Join(s.Check(c.log), "; ")
		if c.want == "" {
			require.Empty(t, got, c.name)
			continue
		}
		require.Contains(t, got, c.want, c.name)
	}
}

// TestConfigAndBaseline: what the daemon is told of the machine travels with
// the scenario, and nothing here looks into it.
func TestConfigAndBaseline(t *testing.T) {
	s := parse(t, file("", `baseline = ["1725 rpm, 8.2 MPa, 15 °C: 95 %"]
[config.rules.inlet_low]
warn = "90 kPa"
`))
	require.Equal(t, "[rules]\n[rules.inlet_low]\nwarn = '90 kPa'\n", string(s.Config))
	require.Len(t, s.Baseline, 1)
	require.InDelta(t, 28.75, s.Baseline[0].SpeedHz, 1e-9)
	require.InDelta(t, 8.2e6, s.Baseline[0].DropPa, 1e-3)
	require.InDelta(t, 0.95, s.Baseline[0].Efficiency, 1e-9)
}

// TestFiles: what stands in testdata says of itself that it is invented and
// why each alarm comes.
func TestFiles(t *testing.T) {
	demo, err := scenario.Demo()
	require.NoError(t, err)
	require.InDelta(t, 7, demo.Duration.Minutes(), 1)
	files, err := os.ReadDir(folder)
	require.NoError(t, err)
	for _, f := range files {
		s, err := scenario.Load(os.DirFS(folder), f.Name())
		require.NoError(t, err)
		require.NotEmpty(t, s.Steps, f.Name())
		text, err := os.ReadFile(folder + "/" + f.Name())
		require.NoError(t, err)
		require.True(t, strings.HasPrefix(string(text), "# "), "%s does not say why", f.Name())
		lines := strings.Split(string(text), "\n")
		for i, l := range lines {
			if strings.HasSuffix(l, ` maybe",`) {
				before := strings.TrimSpace(lines[i-1])
				require.True(t, strings.HasPrefix(before, "#"), "%s: why may %s come?", f.Name(), l)
			}
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(file(`"0:05 tap 50 %", "0:20 fault kinked_hose 80 % over 10 s until 1:00",`, `expect = ["inlet_low.warn between 0:20 and 0:40 cleared by 1:10"]`)))
	f.Add([]byte(file(`"0:30 fault sensor_drift -5 K on water_temp over 1 min",`, "[machine]\ntank = \"60 L\"\ntank_depth = \"1 m\"")))
	f.Add([]byte("title = \"\nend = 5"))
	files, _ := os.ReadDir(folder)
	for _, e := range files {
		if b, err := os.ReadFile(folder + "/" + e.Name()); err == nil {
			f.Add(b)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := scenario.Parse("x.toml", data)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "x.toml:") {
				t.Fatalf("an error without file and line: %v", err)
			}
			return
		}
		// Whatever is accepted, the plant can be stepped along it.
		p, err := plant.New(s.Machine)
		if err != nil {
			t.Fatal(err)
		}
		var in plant.Inputs
		s.Inputs(0, &in)
		st := p.Start(&in)
		for i := range 50 {
			s.Inputs(s.Duration*time.Duration(i)/50, &in)
			p.Step(&st, &in, 0.01)
		}
		if math.IsNaN(st.InletGaugePa+st.OutletGaugePa+st.SpeedHz+st.InletK+st.CurrentA) || math.IsInf(st.Ledger.EnergyErrorJ(), 0) {
			t.Fatalf("the plant lost its way: %+v", st)
		}
	})
}
