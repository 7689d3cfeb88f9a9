package bench_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/bench"
	"headroom/daemon/bench/rig"
	"headroom/rules/units"
)

func TestGenericLibrary(t *testing.T) {
	lib := bench.Generic()
	require.NotEmpty(t, lib.Pumps)
	for _, p := range lib.Pumps {
		require.True(t, p.Invented, "%s: the built-in pumps are marked as invented", p.Name)
		require.Positive(t, p.DisplacementM3)
		for _, l := range lib.Limits(p) {
			require.Equal(t, "common practice, no source", l.Source)
		}
		_, err := bench.NewPlan(p, bench.DefaultChoice())
		require.NoError(t, err)
	}
	require.Len(t, lib.Limits(lib.Pumps[0]), 9, "the first pump's plate knows all that limits are shares of")
	require.Len(t, lib.Limits(lib.Pumps[1]), 9, "a share of what the plate doesn't state is kept, and says so")
}

// TestLimitsThatThePlateCannotGive: no limit is thrown away in silence, and no
// test is passed while one can't be held.
func TestLimitsThatThePlateCannotGive(t *testing.T) {
	for _, c := range []struct {
		lacks, words string
		take         func(p *bench.Pump)
		of           bench.Figure
	}{
		{"relief", "relief pressure", func(p *bench.Pump) { p.ReliefPa = 0 }, bench.ReliefPressure},
		{"nozzle_pressure", "nozzle pressure", func(p *bench.Pump) { p.NozzlePa = 0 }, bench.NozzlePressure},
		{"motor_current", "motor current", func(p *bench.Pump) { p.MotorA = 0 }, bench.CurrentAtPlate},
		{"npsh_required", "NPSH required", func(p *bench.Pump) { p.NPSHRequiredM = 0 }, bench.NPSHRequired},
	} {
		r := whole(t, rig.New, 1)
		v, why := r.Overall(r.Checks())
		require.Equal(t, bench.Pass, v, why)
		c.take(&r.Pump)
		r.Limits = bench.Generic().Limits(r.Pump)
		require.Len(t, r.Limits, 9)
		n := 0
		for _, k := range r.Checks() {
			if k.Limit.Figure != c.of {
				require.Empty(t, k.Limit.Lacks)
				continue
			}
			n++
			require.Equal(t, c.lacks, k.Limit.Lacks)
			require.Equal(t, bench.NotTested, k.Verdict)
			require.Contains(t, k.Why, "write "+c.lacks+" of this pump into the library")
			require.Contains(t, k.Limit.Words(units.SI), "a share of the plate's")
		}
		require.Equal(t, 1, n)
		v, why = r.Overall(r.Checks())
		require.Equal(t, bench.NotShown, v, "no pass without it")
		require.Contains(t, why, "the plate states no "+c.words+" to take")
	}
}

// TestHalfALimit: the side that is known still fails a pump.
func TestHalfALimit(t *testing.T) {
	lib, err := bench.ParseLibrary("x", []byte(goodPump+"[[limit]]\nfigure = \"relief\"\nmin = \"5 MPa\"\nmax = \"107 % of plate\"\nsource = \"s\"\n"))
	require.NoError(t, err)
	r := whole(t, rig.New, 1)
	r.Limits = lib.Limits(lib.Pumps[0])
	require.Equal(t, "at least 5000 kPa, and a share of the plate's relief pressure", r.Limits[0].Words(units.SI))
	require.Equal(t, bench.NotTested, r.Checks()[0].Verdict, "kept on one side is no pass")
	*r.Limits[0].Min = 50e6
	require.Equal(t, bench.Fail, r.Checks()[0].Verdict)
}

const goodPump = "[[pump]]\nname = \"a\"\nflow = \"10 L/min\"\nspeed = \"1450 rpm\"\npressure = \"10 MPa\"\ndisplacement = \"7 cm3\"\n"

// TestBadLibraries: each mistake is named with its line and its mend.
func TestBadLibraries(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"not TOML", "[[pump]\n", "x.toml:1: "},
		{"unknown key", "[[pump]]\nname = \"a\"\nflwo = \"1 L/min\"\n", "x.toml:3: there is no key pump.flwo"},
		{"bare number", strings.Replace(goodPump, `"10 MPa"`, "10", 1), "x.toml:5: "},
		{"no unit", strings.Replace(goodPump, "10 MPa", "10", 1), `x.toml:5: pressure = "10" is no value with a unit: write for example "9 MPa"`},
		{"out of range", strings.Replace(goodPump, "1450 rpm", "90000 rpm", 1), "x.toml:4: speed = \"90000 rpm\" is out of range"},
		{"no flow", strings.Replace(goodPump, "flow = \"10 L/min\"\n", "", 1), "x.toml:1: the pump has no flow"},
		{"no displacement", strings.Replace(goodPump, "displacement = \"7 cm3\"\n", "", 1), "x.toml:1: the pump has neither displacement nor plungers"},
		{"plungers contradict", goodPump + "plungers = 3\nplunger = \"30 mm\"\nstroke = \"20 mm\"\n", "x.toml:6: displacement is"},
		{"half of the plungers", goodPump + "plungers = 3\n", "x.toml:7: plungers, plunger and stroke"},
		{"power factor alone", goodPump + "power_factor = \"85 %\"\n", "x.toml:7: power_factor stands alone"},
		{"twice", goodPump + goodPump, "x.toml:8: a pump of the name \"a\" stands twice"},
		{"no such channel", "[[instrument]]\nchannel = \"presure\"\nclass = \"1 %\"\n", "x.toml:2: there is no channel \"presure\""},
		{"no error stated", "[[instrument]]\nchannel = \"flow\"\nname = \"m\"\n", "x.toml:1: the instrument states no error"},
		{"class and gain", "[[instrument]]\nchannel = \"flow\"\nclass = \"1 %\"\ngain = \"1 %\"\n", "x.toml:3: class stands beside"},
		{"bad date", "[[instrument]]\nchannel = \"flow\"\nclass = \"1 %\"\ncalibrated = \"3.5.2026\"\n", "x.toml:4: calibrated = \"3.5.2026\" is no date"},
		{"no such figure", "[[limit]]\nfigure = \"flwo\"\nmin = \"1 L/min\"\nsource = \"s\"\n", "x.toml:2: there is no figure \"flwo\""},
		{"no side", "[[limit]]\nfigure = \"flow\"\nsource = \"s\"\n", "x.toml:1: the limit of flow has neither min nor max"},
		{"no source", "[[limit]]\nfigure = \"flow\"\nmin = \"1 L/min\"\n", "x.toml:1: the limit of flow says nothing of its source"},
		{"wrong unit", "[[limit]]\nfigure = \"flow\"\nmin = \"1 MPa\"\nsource = \"s\"\n", "x.toml:3: min = \"1 MPa\": is no value with a unit"},
		{"share of nothing", "[[limit]]\nfigure = \"volumetric_efficiency\"\nmin = \"95 % of plate\"\nsource = \"s\"\n", "x.toml:3: min = \"95 % of plate\": the plate states no volumetric_efficiency"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := bench.ParseLibrary("x.toml", []byte(c.text))
			require.ErrorContains(t, err, c.want)
		})
	}
}

// TestClass: a class of a span is shared between zero and gain so that at full
// span the two make the class; a class alone is of the reading.
func TestClass(t *testing.T) {
	lib, err := bench.ParseLibrary("x", []byte("[[instrument]]\nchannel = \"outlet_pressure\"\nclass = \"1 %\"\nspan = \"10 MPa\"\n[[instrument]]\nchannel = \"flow\"\nclass = \"2 %\"\n"))
	require.NoError(t, err)
	a, b := lib.Instruments[0], lib.Instruments[1]
	require.InEpsilon(t, 1e5*1e5, a.Zero*a.Zero+a.Gain*1e7*a.Gain*1e7, 1e-9)
	require.Zero(t, b.Zero)
	require.InDelta(t, 0.02, b.Gain, 1e-12)
}

func FuzzParseLibrary(f *testing.F) {
	f.Add([]byte(bench.GenericText()))
	f.Add([]byte(goodPump))
	f.Add([]byte("[[limit]]\nfigure=\"flow\"\nmin=\"5 % of plate\"\n[[pump]]\n[[instrument]]"))
	f.Fuzz(func(t *testing.T, data []byte) {
		lib, err := bench.ParseLibrary("x", data)
		if err != nil {
			return
		}
		for _, p := range lib.Pumps {
			lib.Limits(p)
			if !(p.DisplacementM3 > 0) {
				t.Fatalf("a pump without displacement was taken: %+v", p)
			}
		}
	})
}
