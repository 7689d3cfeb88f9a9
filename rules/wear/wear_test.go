package wear_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/check/checktest"
	"headroom/rules/wear"
)

func TestChecks(t *testing.T) { checktest.Run(t, wear.Checks()) }

func TestEfficiencyAndSlip(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name              string
		flow, disp, speed float64
		eff               float64
		ok                bool
		source            string
	}{
		{"sound pump", 2.85e-4, 2e-5, 15, 0.95, true, "definition"},
		{"no delivery", 0, 2e-5, 15, 0, true, "definition"},
		{"meter error", 3.15e-4, 2e-5, 15, 1.05, true, "within MaxEfficiency"},
		{"wrong displacement", 3.6e-4, 2e-5, 15, 0, false, "more out than swept"},
		{"standing", 0, 2e-5, 0, 0, false, "no efficiency at rest"},
		{"no flow reading", nan, 2e-5, 15, 0, false, "unknown is not fine"},
		{"no speed reading", 2.85e-4, 2e-5, nan, 0, false, "unknown is not fine"},
		{"backflow", -1e-5, 2e-5, 15, 0, false, "range"},
	} {
		t.Run(c.name, func(t *testing.T) {
			eff, ok := wear.VolumetricEfficiency(c.flow, c.disp, c.speed)
			require.Equal(t, c.ok, ok)
			require.InDelta(t, c.eff, eff, 1e-12)
			slip, ok := wear.SlipM3s(c.flow, c.disp, c.speed)
			require.Equal(t, c.ok, ok)
			if ok {
				require.InDelta(t, c.disp*c.speed, slip+c.flow, 1e-18, "what is swept is delivered or slips")
			}
		})
	}
	for _, bad := range [][2]float64{{0, 0.1}, {0.1, nan}, {2, 0.1}} {
		_, ok := wear.DisplacementM3(bad[0], bad[1], 3)
		require.False(t, ok)
	}
	_, ok := wear.DisplacementM3(0.02, 0.02, 0)
	require.False(t, ok)
	_, ok = wear.DisplacementM3(1, 1, 12)
	require.False(t, ok, "9 m3 per revolution is no jetter")
}

func baseline(t require.TestingT) *wear.Baseline {
	b := &wear.Baseline{Tol: wear.DefaultTolerance()}
	for _, p := range []wear.Point{
		{SpeedHz: 15, DropPa: 5e6, TempK: 290, Efficiency: 0.97},
		{SpeedHz: 15, DropPa: 15e6, TempK: 290, Efficiency: 0.94},
		{SpeedHz: 15, DropPa: 10e6, TempK: 290, Efficiency: 0.96},
		{SpeedHz: 25, DropPa: 10e6, TempK: 290, Efficiency: 0.93},
		{SpeedHz: 15, DropPa: 10e6, TempK: 290, Efficiency: 0.955},
		{SpeedHz: 15, DropPa: 25e6, TempK: 290, Efficiency: 0.92},
	} {
		require.True(t, b.Add(p))
	}
	return b
}

func TestBaseline(t *testing.T) {
	b := baseline(t)
	at := func(speed, drop, temp float64) wear.Point {
		return wear.Point{SpeedHz: speed, DropPa: drop, TempK: temp, Efficiency: 0.9}
	}
	for _, c := range []struct {
		name     string
		p        wear.Point
		want     wear.CompareStatus
		expected float64
		source   string
	}{
		{"on a point, the newer counts", at(15, 10e6, 290), wear.Compared, 0.955, "definition"},
		{"between points", at(15, 7.5e6, 290), wear.Compared, 0.9625, "mean of neighbours"},
		{"other speed has its own points", at(25, 10e6, 290), wear.Compared, 0.93, "definition"},
		{"speed within 3 %", at(15.4, 10e6, 290), wear.Compared, 0.955, "tolerance"},
		{"speed between sets", at(20, 10e6, 290), wear.CompareOutside, 0, "no extrapolation"},
		{"warmer than 10 K", at(15, 10e6, 301), wear.CompareOutside, 0, "no extrapolation"},
		{"just below the lowest pressure", at(15, 4.6e6, 290), wear.Compared, 0.97, "tolerance"},
		{"below the lowest pressure", at(15, 4.4e6, 290), wear.CompareOutside, 0, "no extrapolation"},
		{"above the highest pressure", at(15, 26e6, 290), wear.CompareOutside, 0, "no extrapolation"},
		{"in a gap too wide", at(15, 20e6, 290), wear.CompareOutside, 0, "a gap of 10 MPa"},
		{"at the edge of the gap", at(15, 15.3e6, 290), wear.Compared, 0.94, "tolerance"},
		{"no temperature", at(15, 10e6, math.NaN()), wear.CompareUnknown, 0, "unknown is not fine"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := b.Compare(c.p)
			require.Equal(t, c.want, got.Status)
			require.InDelta(t, c.expected, got.Expected, 1e-12)
			if got.Status == wear.Compared {
				require.InDelta(t, 1-0.9/c.expected, got.Loss, 1e-12)
			}
		})
	}
	require.Equal(t, wear.CompareOutside, new(wear.Baseline).Compare(at(15, 1e7, 290)).Status, "empty")
}

func TestBaselineRefusesPoints(t *testing.T) {
	b := &wear.Baseline{}
	require.False(t, b.Add(wear.Point{SpeedHz: 15, DropPa: 1e7, TempK: 290}), "no efficiency")
	require.False(t, b.Add(wear.Point{SpeedHz: 15, DropPa: 1e7, TempK: 20, Efficiency: 0.9}), "celsius")
	good := wear.Point{SpeedHz: 15, DropPa: 1e7, TempK: 290, Efficiency: 0.9}
	for range wear.MaxBaseline {
		require.True(t, b.Add(good))
	}
	require.False(t, b.Add(good), "full")
	require.Equal(t, wear.MaxBaseline, b.N)
}

// TestExpectedStaysBetween: interpolation never leaves the baseline's values.
func TestExpectedStaysBetween(t *testing.T) {
	b := baseline(t)
	rapid.Check(t, func(t *rapid.T) {
		drop := rapid.Float64Range(5e6, 15e6).Draw(t, "drop")
		eff, ok := b.Expected(wear.Point{SpeedHz: 15, DropPa: drop, TempK: 290})
		require.True(t, ok)
		require.GreaterOrEqual(t, eff, 0.94)
		require.LessOrEqual(t, eff, 0.97)
		more, ok := b.Expected(wear.Point{SpeedHz: 15, DropPa: min(drop+1e5, 15e6), TempK: 290})
		require.True(t, ok)
		require.LessOrEqual(t, more, eff+1e-12, "this baseline falls with pressure")
	})
}

func TestNames(t *testing.T) {
	for task := range wear.NumTasks {
		require.NotEmpty(t, task.String())
	}
	require.Equal(t, "unknown task", wear.NumTasks.String())
	require.Equal(t, []string{"unknown", "outside", "compared"}, []string{
		wear.CompareUnknown.String(), wear.CompareOutside.String(), wear.Compared.String()})
	require.Equal(t, []string{"unknown", "none", "valves", "packing", "cannot tell"}, []string{
		wear.CauseUnknown.String(), wear.CauseNone.String(), wear.CauseValves.String(),
		wear.CausePacking.String(), wear.CauseCannotTell.String()})
	require.Equal(t, []string{"unknown", "off", "ok", "soon", "due"}, []string{
		wear.DueUnknown.String(), wear.DueOff.String(), wear.DueOK.String(),
		wear.DueSoon.String(), wear.DueNow.String()})
}
