package cavitation_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/cavitation"
)

// signs lists the graded readings with the direction that is worse and the
// instrument that they come from.
func signs(in *cavitation.Inputs) []struct {
	at    *cavitation.Reading
	worse float64
	from  string
} {
	return []struct {
		at    *cavitation.Reading
		worse float64
		from  string
	}{
		{&in.MarginM, -1, "inlet"}, {&in.TempHeadroomK, -1, "inlet"},
		{&in.FlowDeficit, 1, "flow"}, {&in.FlowSwing, 1, "flow"},
		{&in.CurrentDrop, 1, "current"}, {&in.CurrentSwing, 1, "current"},
		{&in.PulsationRise, 1, "inlet"}, {&in.PulsationDepth, 1, "inlet"},
		{&in.VibrationRise, 1, "vibration"},
	}
}

func drawReading(t *rapid.T, label string, low, high float64) cavitation.Reading {
	switch rapid.IntRange(0, 5).Draw(t, label+" state") {
	case 0:
		return cavitation.Reading{}
	case 1:
		return cavitation.Unknown()
	}
	return cavitation.Known(rapid.Float64Range(low, high).Draw(t, label))
}

func drawInputs(t *rapid.T) cavitation.Inputs {
	in := cavitation.Inputs{
		Delivering:    true,
		MarginAssumed: rapid.Bool().Draw(t, "assumed"),
		MarginM:       drawReading(t, "margin", -3, 5),
		LowMarginM:    drawReading(t, "low margin", -3, 5),
		CoolMarginM:   drawReading(t, "cool margin", -3, 5),
		InletGaugePa:  drawReading(t, "inlet", -5e4, 3e5),
		TempHeadroomK: drawReading(t, "headroom", -10, 40),
		FlowDeficit:   drawReading(t, "deficit", -0.1, 0.3), FlowSwing: drawReading(t, "flow swing", 0, 6),
		CurrentDrop: drawReading(t, "drop", -0.1, 0.4), CurrentSwing: drawReading(t, "current swing", 0, 6),
		PulsationRise: drawReading(t, "pulsation", 0, 6), PulsationDepth: drawReading(t, "depth", 0, 0.6),
		VibrationRise: drawReading(t, "vibration", 0, 6),
	}
	return in
}

func TestWorseNeverLowersTheGrade(t *testing.T) {
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		in := drawInputs(t)
		before := r.Judge(in)
		list := signs(&in)
		s := list[rapid.IntRange(0, len(list)-1).Draw(t, "sign")]
		if !s.at.Known {
			t.Skip("nothing to make worse")
		}
		s.at.Value += s.worse * rapid.Float64Range(0, 0.5).Draw(t, "by")
		require.GreaterOrEqual(t, r.Judge(in).Grade, before.Grade)
	})
}

// A reading that goes missing, or a sensor that is taken off, never raises the
// grade nor what can be reached; a margin that is only assumed doesn't either.
func TestUnknownNeverRaisesTheGrade(t *testing.T) {
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		in := drawInputs(t)
		before := r.Judge(in)
		list := signs(&in)
		gone := rapid.SampledFrom([]cavitation.Reading{{}, cavitation.Unknown()}).Draw(t, "gone")
		switch n := rapid.IntRange(0, len(list)+3).Draw(t, "sign"); n {
		case len(list):
			in.LowMarginM = gone
		case len(list) + 1:
			in.CoolMarginM = gone
		case len(list) + 2:
			in.InletGaugePa = gone
		case len(list) + 3:
			in.MarginAssumed = true
		default:
			*list[n].at = gone
		}
		after := r.Judge(in)
		require.LessOrEqual(t, after.Grade, before.Grade)
		require.LessOrEqual(t, after.Reachable, before.Reachable)
	})
}

func TestGradeStaysWithinReach(t *testing.T) {
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		v := r.Judge(drawInputs(t))
		require.LessOrEqual(t, v.Grade, v.Reachable)
		require.Equal(t, v.Grade < cavitation.Possible, v.Cause == cavitation.NoCause)
		require.Equal(t, v.Grade == cavitation.CannotJudge, v.Reason != cavitation.Judged)
		require.Equal(t, v.Grade >= cavitation.Possible, v.In(cavitation.Speaks) != 0)
	})
}

// However wild one instrument is, the others silent, it never gives Severe.
func TestOneInstrumentNeverGivesSevere(t *testing.T) {
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		wild := rapid.SampledFrom([]string{"inlet", "flow", "current", "vibration"}).Draw(t, "wild")
		in := sound()
		for _, s := range signs(&in) {
			if s.from == wild {
				s.at.Value = s.worse * rapid.Float64Range(0, 500).Draw(t, "value")
			}
		}
		in.LowMarginM = in.MarginM
		require.Less(t, r.Judge(in).Grade, cavitation.Severe)
	})
}

// The same holds of the flow meter and the current together: without the inlet
// or a noise they give no more than Possible.
func TestLostFlowAloneIsNotCavitation(t *testing.T) {
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		in := sound()
		in.FlowDeficit = cavitation.Known(rapid.Float64Range(0, 1).Draw(t, "deficit"))
		in.CurrentDrop = cavitation.Known(rapid.Float64Range(0, 1).Draw(t, "drop"))
		require.LessOrEqual(t, r.Judge(in).Grade, cavitation.Possible)
	})
}
