package cavitation_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/cavitation"
	"headroom/rules/check/checktest"
)

func TestChecks(t *testing.T) { checktest.Run(t, cavitation.Checks()) }

func rules(t require.TestingT) cavitation.Rules {
	r, err := cavitation.New(cavitation.DefaultConfig())
	require.NoError(t, err)
	return r
}

// sound is a pump with all sensors fitted and nothing amiss.
func sound() cavitation.Inputs {
	k := cavitation.Known
	return cavitation.Inputs{
		Delivering: true,
		MarginM:    k(20), LowMarginM: k(20), CoolMarginM: k(20.1), InletGaugePa: k(250e3),
		TempHeadroomK: k(80), FlowDeficit: k(0.01), FlowSwing: k(1), CurrentDrop: k(0.01),
		CurrentSwing: k(1), PulsationRise: k(1), PulsationDepth: k(0.03), VibrationRise: k(1),
	}
}

// with returns the sound pump, changed.
func with(edits ...func(*cavitation.Inputs)) cavitation.Inputs {
	in := sound()
	for _, e := range edits {
		e(&in)
	}
	return in
}

func margin(m, cool float64) func(*cavitation.Inputs) {
	return func(in *cavitation.Inputs) {
		in.MarginM, in.LowMarginM, in.CoolMarginM = cavitation.Known(m), cavitation.Known(m), cavitation.Known(cool)
	}
}

func inlet(pa float64) func(*cavitation.Inputs) {
	return func(in *cavitation.Inputs) { in.InletGaugePa = cavitation.Known(pa) }
}

func warm(k float64) func(*cavitation.Inputs) {
	return func(in *cavitation.Inputs) { in.TempHeadroomK = cavitation.Known(k) }
}

func flow(deficit, swing float64) func(*cavitation.Inputs) {
	return func(in *cavitation.Inputs) {
		in.FlowDeficit, in.FlowSwing = cavitation.Known(deficit), cavitation.Known(swing)
	}
}

func current(drop, swing float64) func(*cavitation.Inputs) {
	return func(in *cavitation.Inputs) {
		in.CurrentDrop, in.CurrentSwing = cavitation.Known(drop), cavitation.Known(swing)
	}
}

func pulses(rise, depth float64) func(*cavitation.Inputs) {
	return func(in *cavitation.Inputs) {
		in.PulsationRise, in.PulsationDepth = cavitation.Known(rise), cavitation.Known(depth)
	}
}

func shakes(rise float64) func(*cavitation.Inputs) {
	return func(in *cavitation.Inputs) { in.VibrationRise = cavitation.Known(rise) }
}

func unfit(in *cavitation.Inputs) {
	in.VibrationRise, in.CurrentDrop, in.CurrentSwing = cavitation.Reading{}, cavitation.Reading{}, cavitation.Reading{}
}

const (
	none, possible, likely, severe = cavitation.None, cavitation.Possible, cavitation.Likely, cavitation.Severe
	cannot                         = cavitation.CannotJudge
)

// The descriptions of symptoms are from memory of the texts named; the grades
// are this project's reading of them.
func TestVerdicts(t *testing.T) {
	r := rules(t)
	in := func(edits ...func(*cavitation.Inputs)) cavitation.Inputs { return with(edits...) }
	for _, c := range []struct {
		name, source string
		in           cavitation.Inputs
		grade        cavitation.Grade
		cause        cavitation.Cause
	}{
		{"a sound pump", "definition", in(), none, cavitation.NoCause},
		{"developed cavitation: noise, vibration, capacity falls off, load falls",
			"Karassik, Pump Handbook, symptoms of insufficient NPSH",
			in(margin(-2, -1.8), inlet(-40e3), flow(0.25, 3), current(0.2, 2.5), pulses(5, 0.6), shakes(4)), severe, cavitation.Starvation},
		{"tap half shut, inlet near the air's pressure, capacity falls",
			"Hydraulic Institute, reciprocating pumps: low suction pressure lowers capacity",
			in(margin(0.8, 1.0), inlet(20e3), flow(0.2, 1.2)), likely, cavitation.Starvation},
		{"inlet filter clogging, no flow lost yet", "Hydraulic Institute, causes of insufficient suction pressure",
			in(margin(1.0, 1.2), inlet(10e3)), possible, cavitation.Starvation},
		{"air through a loose coupling: erratic flow, hammering, load falls, pressure fine",
			"Bloch and Budris, Pump User's Handbook, air entrainment",
			in(flow(0.2, 4), current(0.15, 3), pulses(4, 0.3), shakes(1.5)), likely, cavitation.AirIngestion},
		{"a little air: erratic flow and pulsation", "Karassik, Pump Handbook, air leaks in the suction line",
			in(flow(0.03, 2.2), pulses(2.2, 0.1)), possible, cavitation.AirIngestion},
		{"much air, everything shakes", "Bloch and Budris, Pump User's Handbook, air entrainment",
			in(flow(0.4, 6), current(0.3, 5), pulses(6, 0.5), shakes(5)), severe, cavitation.AirIngestion},
		{"water warmed on bypass", "definition of NPSHA: vapour pressure takes the head",
			in(margin(0.4, 14), warm(2), flow(0.08, 1), pulses(2, 0.1)), likely, cavitation.HotWater},
		{"water near boiling, nothing heard yet", "definition of NPSHA", in(margin(-1, 14), warm(-3)), likely, cavitation.HotWater},
		{"warm water, margin still there", "definition of NPSHA", in(margin(5, 20), warm(8)), possible, cavitation.HotWater},
		{"worn packings and valves: steady loss of capacity",
			"Karassik, Pump Handbook, slip of worn power pumps",
			in(flow(0.15, 1.1), inlet(280e3)), possible, cavitation.WornPump},
		{"worn, and the motor draws less", "Karassik, Pump Handbook, slip of worn power pumps",
			in(flow(0.2, 1.1), current(0.15, 1)), possible, cavitation.WornPump},
		{"broken pump valve: steady loss, pulsation and vibration at good margin",
			"Hydraulic Institute, troubleshooting of power pumps",
			in(flow(0.33, 1.2), pulses(4, 0.3), shakes(3)), likely, cavitation.Undetermined},
		{"two classes, both weakly", "documented rules", in(margin(0.5, 1), inlet(30e3), flow(0.1, 1)), possible, cavitation.Starvation},
		{"three classes, one strongly", "documented rules",
			in(margin(-1, -0.8), inlet(30e3), flow(0.1, 1), shakes(2.5)), likely, cavitation.Starvation},
		{"steady loss with pulsation is no wear", "documented rules", in(flow(0.2, 1), pulses(3, 0.3)), likely, cavitation.Undetermined},
		{"steady loss, inlet pressure not known", "documented rules",
			in(flow(0.2, 1), func(in *cavitation.Inputs) { in.InletGaugePa = cavitation.Unknown() }), possible, cavitation.Undetermined},
		{"steady loss that shakes is no wear", "documented rules", in(flow(0.2, 1), shakes(2.5)), likely, cavitation.Undetermined},
		{"steady loss with an unsteady current is no wear", "documented rules",
			in(flow(0.2, 1), current(0, 3)), possible, cavitation.Undetermined},
		{"an unsteady loss is no wear", "documented rules", in(flow(0.2, 3)), possible, cavitation.Undetermined},
		{"a loss whose steadiness is not known is no wear", "documented rules",
			in(flow(0.2, 1), func(in *cavitation.Inputs) { in.FlowSwing = cavitation.Unknown() }), possible, cavitation.Undetermined},
		{"signs of air near the water's limit, cool margin not known", "documented rules",
			in(warm(5), flow(0.2, 3), pulses(3, 0.3), func(in *cavitation.Inputs) { in.CoolMarginM = cavitation.Unknown() }),
			likely, cavitation.Undetermined},
		{"vibration alone", "definition", in(shakes(9)), possible, cavitation.Undetermined},
		{"pulsation alone", "definition", in(pulses(9, 1)), possible, cavitation.Undetermined},
		{"current alone", "definition", in(current(0.5, 9)), possible, cavitation.Undetermined},
		{"inlet low and hot: pressure first", "definition",
			in(margin(0.5, 4), warm(4), inlet(30e3), flow(0.2, 1)), likely, cavitation.Starvation},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := r.Judge(c.in)
			require.Equal(t, c.grade.String(), v.Grade.String(), c.source)
			require.Equal(t, c.cause.String(), v.Cause.String(), c.source)
			require.Equal(t, cavitation.Judged, v.Reason)
		})
	}
}

// Source: the documented rules on what is not known.
func TestWhatIsNotKnown(t *testing.T) {
	r := rules(t)
	unknownMargin := func(in *cavitation.Inputs) {
		in.MarginM, in.TempHeadroomK = cavitation.Unknown(), cavitation.Unknown()
	}
	noFlow := func(in *cavitation.Inputs) { in.FlowDeficit, in.FlowSwing = cavitation.Unknown(), cavitation.Unknown() }
	noPulses := func(in *cavitation.Inputs) {
		in.PulsationRise, in.PulsationDepth = cavitation.Unknown(), cavitation.Unknown()
	}
	assumed := func(in *cavitation.Inputs) { in.MarginAssumed = true }
	hose := func(in *cavitation.Inputs) { in.LowMarginM = cavitation.Known(-180) }
	for _, c := range []struct {
		name             string
		in               cavitation.Inputs
		grade, reachable cavitation.Grade
		onAssumption     bool
	}{
		{"all known", with(), none, severe, false},
		{"vibration and current not fitted", with(unfit), none, severe, false},
		{"no margin", with(unknownMargin), none, severe, false},
		{"no margin, and only three instruments for the rest", with(unknownMargin, shakesUnknown), none, likely, false},
		{"margin alone", with(unfit, noFlow, noPulses), cannot, likely, false},
		{"margin alone, on an assumption", with(unfit, noFlow, noPulses, assumed), cannot, possible, true},
		{"margin gone, on an assumption, alone", with(margin(-3, -3), assumed), possible, severe, true},
		{"margin gone, sure, alone", with(margin(-3, -3)), likely, severe, false},
		{"a hose: worst margin absurd, best fine", with(hose), none, severe, true},
		{"a hose, and only its flow besides", with(hose, noPulses, shakesUnknown), cannot, likely, true},
		{"nothing", cavitation.Inputs{Delivering: true}, cannot, cannot, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := r.Judge(c.in)
			require.Equal(t, c.grade.String(), v.Grade.String())
			require.Equal(t, c.reachable.String(), v.Reachable.String())
			require.Equal(t, c.onAssumption, v.OnAssumption)
			require.Equal(t, v.Grade == cannot, v.Reason == cavitation.TooLittleKnown)
		})
	}
}

func shakesUnknown(in *cavitation.Inputs) { in.VibrationRise = cavitation.Unknown() }

func TestFindingsAreNamed(t *testing.T) {
	in := with(unfit, flow(0.2, 1), func(in *cavitation.Inputs) {
		in.PulsationRise = cavitation.Unknown()
		in.LowMarginM = cavitation.Known(-100)
	})
	v := rules(t).Judge(in)
	for state, want := range map[cavitation.State][]cavitation.Item{
		cavitation.Speaks:    {cavitation.FlowDeficit},
		cavitation.Silent:    {cavitation.FlowSwing, cavitation.PulsationDepth},
		cavitation.NoReading: {cavitation.PulsationRise},
		cavitation.Undecided: {cavitation.NPSHMargin, cavitation.TempHeadroom},
		cavitation.NotFitted: {cavitation.CurrentDrop, cavitation.CurrentSwing, cavitation.VibrationRise},
	} {
		got := v.In(state)
		for i := cavitation.Item(0); i < cavitation.NumItems; i++ {
			require.Equal(t, has(want, i), got.Has(i), "%s is %s", i, v.Findings[i].State)
		}
	}
	f := v.Findings[cavitation.FlowDeficit]
	require.Equal(t, 0.2, f.Quantity)
	require.Equal(t, 1.0, f.Strength)
	require.Equal(t, cavitation.Limit{Speaks: 0.06, Strong: 0.15}, f.Limit)
	require.False(t, v.In(cavitation.Speaks).Has(cavitation.NumItems))
}

func has(items []cavitation.Item, i cavitation.Item) bool {
	for _, x := range items {
		if x == i {
			return true
		}
	}
	return false
}
