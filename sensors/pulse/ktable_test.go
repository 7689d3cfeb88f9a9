package pulse

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestFlowByTable(t *testing.T) {
	table := KTable{{10, 400_000}, {100, 450_000}, {200, 440_000}}
	for _, c := range []struct {
		k       KTable
		hz      float64
		flow    float64
		clamped bool
		source  string
	}{
		// f = K Q/60 with K in pulses per litre and Q in L/min: 450 pulses per
		// litre at 7.5 Hz is 1 L/min.
		{KTable{{0, 450_000}}, 7.5, 1e-3 / 60, false, "common practice from memory (7.5 Hz per L/min), arithmetic"},
		{table, 0, 0, false, "no pulse is no flow"},
		{table, 5, 5 / 400_000., true, "clamped to the lower end"},
		{table, 10, 10 / 400_000., false, "a point of the table"},
		{table, 55, 55 / 425_000., false, "half way between 400 000 and 450 000"},
		{table, 150, 150 / 445_000., false, "half way between 450 000 and 440 000"},
		{table, 200, 200 / 440_000., false, "the last point"},
		{table, 201, 201 / 440_000., true, "clamped to the upper end"},
	} {
		require.NoError(t, c.k.Check())
		got, clamped := c.k.Flow(c.hz)
		require.InEpsilon(t, c.flow+1, got+1, 1e-15, c.source)
		require.InDelta(t, c.flow, got, 1e-12*c.flow, c.source)
		require.Equal(t, c.clamped, clamped, c.source)
	}
}

func TestBadTables(t *testing.T) {
	for want, k := range map[string]KTable{
		"is empty":                   nil,
		"point 1":                    {{-1, 5}},
		"point 2 of the K-factor":    {{1, 5}, {2, math.NaN()}},
		"K-factor above 0":           {{1, 0}},
		"sort the points":            {{2, 5}, {2, 5}},
		"the flow would fall while":  {{1, 1}, {2, 100}},
		"has 1 Hz after 3 Hz":        {{3, 5}, {1, 5}},
		"at least 0 and a K-factor ": {{math.Inf(1), 5}},
	} {
		require.ErrorContains(t, k.Check(), want)
	}
}

// More pulses never mean less flow, for every table that Check lets pass.
func TestFlowRisesWithTheRate(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var k KTable
		hz := 0.0
		for range rapid.IntRange(1, 8).Draw(rt, "points") {
			k = append(k, KPoint{hz, rapid.Float64Range(1e4, 1e6).Draw(rt, "k")})
			hz += rapid.Float64Range(0.1, 500).Draw(rt, "step")
		}
		if k.Check() != nil {
			rt.Skip("refused")
		}
		a, b := rapid.Float64Range(0, 1.2*hz+1).Draw(rt, "a"), rapid.Float64Range(0, 1.2*hz+1).Draw(rt, "b")
		qa, _ := k.Flow(min(a, b))
		qb, _ := k.Flow(max(a, b))
		if qa > qb*(1+1e-12) || math.IsNaN(qa) {
			rt.Fatalf("%g Hz %g, %g Hz %g", min(a, b), qa, max(a, b), qb)
		}
	})
}
