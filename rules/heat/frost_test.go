package heat_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/heat"
)

func TestFrost(t *testing.T) {
	lim := heat.DefaultFrostLimits()
	water := func(c float64) heat.FrostState {
		return heat.FrostState{WaterK: 273.15 + c, WaterKnown: true}
	}
	both := func(w, a float64) heat.FrostState {
		s := water(w)
		s.AmbientK, s.AmbientKnown = 273.15+a, true
		return s
	}
	air := func(a float64) heat.FrostState {
		return heat.FrostState{AmbientK: 273.15 + a, AmbientKnown: true}
	}
	running := both(1, -10)
	running.Running = true
	drained := both(1, -10)
	drained.Protected = true
	refilled := drained
	refilled.Running = true
	broken := both(math.NaN(), -10)
	for _, c := range []struct {
		name   string
		s      heat.FrostState
		want   heat.FrostStatus
		source string
	}{
		{"nothing known", heat.FrostState{}, heat.FrostUnknown, "unknown is not fine"},
		{"warm water", water(15), heat.FrostNone, "setting"},
		{"4 C", water(4), heat.FrostWatch, "setting"},
		{"2 C", water(2), heat.FrostRisk, "setting"},
		{"0 C", water(0), heat.FrostFreezing, "freezing point"},
		{"warm water, cold night", both(15, -5), heat.FrostWatch, "Newton: an hour times ln 4 = 83 min"},
		{"warm water, bitter cold", both(15, -30), heat.FrostRisk, "Newton: an hour times ln 1.5 = 24 min"},
		{"warm water, cold above freezing", both(15, 1), heat.FrostNone, "Newton: never reaches 0 C"},
		{"only air, frost", air(-1), heat.FrostRisk, "unknown water is not warm water"},
		{"only air, near frost", air(3), heat.FrostWatch, "setting"},
		{"only air, mild", air(12), heat.FrostNone, "setting"},
		{"running in the cold", running, heat.FrostWatch, "moving water"},
		{"drained", drained, heat.FrostNone, "the technician's word"},
		{"drained, then run again", refilled, heat.FrostWatch, "there is water in it again"},
		{"broken water sensor", broken, heat.FrostRisk, "unknown water is not warm water"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := lim.Classify(c.s)
			require.Equal(t, c.want, f.Status)
			require.Equal(t, f.Status >= heat.FrostRisk, f.Protect)
		})
	}
	f := lim.Classify(both(15, -5))
	require.True(t, f.TimeKnown)
	require.InDelta(t, 3600*math.Log(4), f.Seconds, 1e-6)
	lim.TauS = 0
	require.Equal(t, heat.Frost{}, lim.Classify(both(15, -5)), "a sick limit gives no verdict")
}

// TestColderIsNeverSafer: a colder reading never lowers the status.
func TestColderIsNeverSafer(t *testing.T) {
	lim := heat.DefaultFrostLimits()
	rapid.Check(t, func(t *rapid.T) {
		s := heat.FrostState{
			WaterK: rapid.Float64Range(265, 320).Draw(t, "water"), WaterKnown: rapid.Bool().Draw(t, "wk"),
			AmbientK: rapid.Float64Range(240, 310).Draw(t, "ambient"), AmbientKnown: rapid.Bool().Draw(t, "ak"),
			Running: rapid.Bool().Draw(t, "running"),
		}
		was := lim.Classify(s).Status
		s.WaterK -= rapid.Float64Range(0, 20).Draw(t, "colder water")
		s.AmbientK -= rapid.Float64Range(0, 20).Draw(t, "colder air")
		require.GreaterOrEqual(t, lim.Classify(s).Status, was)
	})
}

// TestCoolingSolvesNewton: the exponential law run for the time told ends at
// the target (source: T = Ta + (T0 - Ta) exp(-t/tau), Go's math.Exp).
func TestCoolingSolvesNewton(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ambient := rapid.Float64Range(240, 272).Draw(t, "ambient")
		start := rapid.Float64Range(274, 340).Draw(t, "start")
		tau := rapid.Float64Range(60, 1e4).Draw(t, "tau")
		s, ok := heat.CoolingTimeS(start, heat.FreezeK, ambient, tau)
		require.True(t, ok)
		require.InDelta(t, heat.FreezeK, ambient+(start-ambient)*math.Exp(-s/tau), 1e-9)
	})
	_, ok := heat.CoolingTimeS(280, 273.15, 273.15, 3600)
	require.False(t, ok, "never gets there")
	s, ok := heat.CoolingTimeS(273, 273.15, 290, 3600)
	require.True(t, ok)
	require.Zero(t, s, "is there")
}

func TestStatusNames(t *testing.T) {
	require.Equal(t, []string{"unknown", "heating", "reached", "never", "unknown"}, []string{
		heat.ApproachUnknown.String(), heat.ApproachHeating.String(), heat.ApproachReached.String(),
		heat.ApproachNever.String(), heat.ApproachStatus(99).String()})
	require.Equal(t, []string{"unknown", "none", "watch", "risk", "freezing"}, []string{
		heat.FrostUnknown.String(), heat.FrostNone.String(), heat.FrostWatch.String(),
		heat.FrostRisk.String(), heat.FrostFreezing.String()})
}
