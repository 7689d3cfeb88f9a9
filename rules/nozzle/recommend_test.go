package nozzle_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/nozzle"
)

func job(lineInch, lengthM float64) nozzle.Job {
	return nozzle.Job{LineM: lineInch * inch, HoseLengthM: lengthM, Cd: 0.85, Holes: 4, DensityKgM3: water}
}

func TestTradeTableIsOrdered(t *testing.T) {
	table := nozzle.TradeTable()
	for i, r := range table {
		require.Less(t, r.LineMinM, r.LineMaxM)
		require.Less(t, r.FlowMinM3s, r.FlowMaxM3s)
		require.Less(t, r.PressureMinPa, r.PressureMaxPa)
		require.Less(t, r.HoseBoreM, r.LineMinM/4, "a hose must leave room in its line")
		if i > 0 {
			require.Equal(t, table[i-1].LineMaxM, r.LineMinM, "no gap between rows")
			require.Greater(t, r.HoseBoreM, table[i-1].HoseBoreM)
		}
	}
}

func TestRowFor(t *testing.T) {
	for _, c := range []struct {
		lineM, boreInch float64
		ok              bool
	}{
		{1.25 * inch, 1.0 / 8, true}, {2 * inch, 1.0 / 8, true}, {0.0508, 1.0 / 8, true}, {2.5 * inch, 3.0 / 16, true},
		{4 * inch, 1.0 / 4, true}, {0.110, 3.0 / 8, true}, {6 * inch, 3.0 / 8, true}, {8 * inch, 1.0 / 2, true},
		{1 * inch, 0, false}, {10 * inch, 0, false}, {math.NaN(), 0, false},
	} {
		r, _, ok := nozzle.RowFor(c.lineM)
		require.Equal(t, c.ok, ok, "line %g m", c.lineM)
		require.InDelta(t, c.boreInch*inch, r.HoseBoreM, 1e-9, "line %g m", c.lineM)
	}
}

func TestRecommend(t *testing.T) {
	small := nozzle.Pump{FlowM3s: 2 * gpm, RatedPa: 1500 * psi}
	mid := nozzle.Pump{FlowM3s: 4 * gpm, RatedPa: 3000 * psi}
	big := nozzle.Pump{FlowM3s: 12 * gpm, RatedPa: 4000 * psi}
	for _, c := range []struct {
		name  string
		job   nozzle.Job
		pump  nozzle.Pump
		short nozzle.Shortfall
		small bool
	}{
		{"small pump, sink drain, short hose", job(1.5, 5), small, 0, false},
		{"small pump in a 6 in sewer", job(6, 30), small, nozzle.FlowLow | nozzle.RatedPressureLow, true},
		{"small pump, long thin hose", job(1.5, 60), small, nozzle.HoseTakesAll, true},
		{"small pump, 10 m of thin hose: 1330 of 1500 psi", job(1.5, 10), small, nozzle.NozzlePressureLow, true},
		{"mid pump, 4 in, 30 m", job(4, 30), mid, 0, false},
		{"mid pump, 6 in: too little flow", job(6, 60), mid, nozzle.FlowLow, true},
		{"big pump, 6 in", job(6, 30), big, 0, false},
		{"big pump in a sink drain", job(1.5, 15), big, nozzle.FlowHigh | nozzle.HoseTakesAll, true},
	} {
		r := nozzle.Recommend(c.job, c.pump, friction)
		require.Equal(t, nozzle.RecommendOK, r.Status, c.name)
		require.Equal(t, c.short, r.Usual.Short, "%s: %b, %.0f psi of hose", c.name, r.Usual.Short, r.Usual.FrictionPa/psi)
		require.Equal(t, c.small, r.Usual.TooSmall(), c.name)
	}
}

func TestRecommendRefuses(t *testing.T) {
	pump := nozzle.Pump{FlowM3s: 4 * gpm, RatedPa: 3000 * psi}
	require.Equal(t, nozzle.LineOutOfTable, nozzle.Recommend(job(12, 30), pump, friction).Status)
	require.Equal(t, nozzle.RecommendUnknown, nozzle.Recommend(job(4, 30), nozzle.Pump{}, friction).Status)
	require.Equal(t, nozzle.RecommendUnknown, nozzle.Recommend(job(4, 30), pump, nil).Status)
	refuse := func(_, _, _ float64) (float64, bool) { return 0, false }
	require.Equal(t, nozzle.FrictionOutOfRange, nozzle.Recommend(job(4, 30), pump, refuse).Status)
	require.False(t, nozzle.Recommend(job(8, 30), pump, friction).Larger.Known, "no row above the last")
}

// The recommended nozzle behind its hose brings the pump to its rated pressure.
func TestRecommendedNozzleReachesRatedPressure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := job(rapid.Float64Range(1.25, 8).Draw(t, "line"), rapid.Float64Range(0, 100).Draw(t, "length"))
		p := nozzle.Pump{FlowM3s: rapid.Float64Range(1, 20).Draw(t, "gpm") * gpm, RatedPa: rapid.Float64Range(1000, 5000).Draw(t, "psi") * psi}
		r := nozzle.Recommend(j, p, friction)
		require.Equal(t, nozzle.RecommendOK, r.Status)
		for _, c := range []nozzle.Choice{r.Usual, r.Larger} {
			if !c.Known || c.Short.Has(nozzle.HoseTakesAll) {
				continue
			}
			l := nozzle.Line{LengthM: j.HoseLengthM, BoreM: c.Row.HoseBoreM, FactorM3sRootPa: c.FactorM3sRootPa}
			got, ok := outletOf(l, p.FlowM3s, friction)
			require.True(t, ok)
			require.InEpsilon(t, p.RatedPa, got, 1e-9)
			k, ok := nozzle.Factor(j.Cd, float64(j.Holes)*math.Pi/4*c.DiameterM*c.DiameterM, j.DensityKgM3)
			require.True(t, ok)
			require.InEpsilon(t, c.FactorM3sRootPa, k, 1e-9)
			require.InEpsilon(t, p.FlowM3s*(p.RatedPa-c.FrictionPa), c.NozzlePowerW, 1e-9)
		}
		if r.Larger.Known {
			require.Less(t, r.Larger.FrictionPa, math.Max(r.Usual.FrictionPa, 1e-9))
		}
	})
}

func FuzzRecommend(f *testing.F) {
	f.Add(0.1, 30.0, 0.85, 4, 998.0, 2.5e-4, 2e7)
	f.Add(math.NaN(), -1.0, 0.0, 0, 1e9, math.Inf(1), 5e-324)
	f.Fuzz(func(t *testing.T, line, length, cd float64, holes int, rho, flow, rated float64) {
		r := nozzle.Recommend(nozzle.Job{LineM: line, HoseLengthM: length, Cd: cd, Holes: holes, DensityKgM3: rho},
			nozzle.Pump{FlowM3s: flow, RatedPa: rated}, friction)
		for _, c := range []nozzle.Choice{r.Usual, r.Larger} {
			for i, x := range []float64{c.FrictionPa, c.LeftPa, c.FactorM3sRootPa, c.Number, c.AreaM2, c.DiameterM, c.NozzlePowerW} {
				require.False(t, math.IsNaN(x) || math.IsInf(x, 0) || x < 0, "number %d is %g", i, x)
			}
		}
		h := nozzle.Head{Cd: cd}
		h.Groups[0] = nozzle.Group{Count: holes, DiameterM: line / 50, AngleRad: length}
		if n, ok := h.Pull(rated); ok {
			require.False(t, math.IsNaN(n) || math.IsInf(n, 0))
		}
	})
}

func TestNoAllocation(t *testing.T) {
	e, r, l := machine(t), at(4, 2700), nozzle.DefaultLimits()
	require.Zero(t, testing.AllocsPerRun(50, func() { nozzle.Diagnose(r, e, nozzle.Facts{}, l) }))
	p := nozzle.Pump{FlowM3s: 4 * gpm, RatedPa: 3000 * psi}
	j := job(4, 30)
	require.Zero(t, testing.AllocsPerRun(50, func() { nozzle.Recommend(j, p, friction) }))
}
