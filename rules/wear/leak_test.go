package wear_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/wear"
)

// leaky builds readings of a pump with the given two parts of slip at 20 MPa
// (the laws: Bernoulli's orifice, Hagen-Poiseuille gap) and normal noise.
func leaky(valve, packing, sigma float64, n int, lowPa float64, rng *rand.Rand) *wear.Evidence {
	e := &wear.Evidence{SigmaM3s: sigma, MatterM3s: 2.5e-6, PackingSeen: true}
	for i := range n {
		drop := lowPa + (20e6-lowPa)*float64(i)/float64(n-1)
		noise := 0.0
		if rng != nil {
			noise = rng.NormFloat64() * sigma
		}
		q := valve*math.Sqrt(drop/20e6) + packing*drop/20e6
		e.Add(wear.Slip{DropPa: drop, ViscosityPaS: 1e-3, SlipM3s: q + noise})
	}
	return e
}

func TestJudge(t *testing.T) {
	const l, s = 1e-5, 1e-7 // 0.6 L/min of slip, 0.006 L/min of noise.
	inletMeter := leaky(0, l, s, 8, 2e6, nil)
	inletMeter.PackingSeen = false
	odd := leaky(l, 0, s, 8, 2e6, nil)
	for i, off := range []float64{0, 0, 10, -10, -10, 10, 0, 0} {
		odd.Points[i].SlipM3s += off * s
	}
	require.Greater(t, odd.Judge().Sigmas, 4.0, "but for the scatter it would be the valves")
	broken := leaky(l, 0, s, 8, 2e6, nil)
	broken.Points[2].ViscosityPaS = math.NaN()
	steep := leaky(-l, 3*l, s, 8, 2e6, nil)
	noSigma := leaky(l, 0, 0, 8, 2e6, nil)
	offset := leaky(-l, 0, s, 8, 2e6, nil)
	blind := leaky(0, 0, s, 8, 2e6, nil)
	blind.MatterM3s = 0
	for _, c := range []struct {
		name   string
		e      *wear.Evidence
		want   wear.Cause
		source string
	}{
		{"all through the valves", leaky(l, 0, s, 8, 2e6, nil), wear.CauseValves, "orifice law"},
		{"all past the packing", leaky(0, l, s, 8, 2e6, nil), wear.CausePacking, "gap law"},
		{"half and half", leaky(l/2, l/2, s, 8, 2e6, nil), wear.CauseCannotTell, "neither is larger"},
		{"packing, metered before the pump", inletMeter, wear.CauseCannotTell, "that meter counts the lost water"},
		{"pressures nearly alike", leaky(l, 0, s, 8, 19.5e6, nil), wear.CauseCannotTell, "laws agree there"},
		{"one and the same pressure", leaky(l, 0, s, 8, 20e6, nil), wear.CauseCannotTell, "laws agree there"},
		{"one pressure, no slip", leaky(0, 0, s, 8, 20e6, nil), wear.CauseNone, "noise only"},
		{"noisy meter", leaky(l, 0, l, 8, 2e6, nil), wear.CauseCannotTell, "noise as large as the slip"},
		{"noisy meter, no slip", leaky(0, 0, l, 8, 2e6, nil), wear.CauseCannotTell, "the noise hides what matters"},
		{"more than swept", offset, wear.CauseCannotTell, "a meter that is off"},
		{"nobody said what matters", blind, wear.CauseCannotTell, "definition"},
		{"slip too small to matter", leaky(1e-6, 0, s, 8, 2e6, nil), wear.CauseNone, "definition"},
		{"no slip", leaky(0, 0, s, 8, 2e6, nil), wear.CauseNone, "noise only"},
		{"readings fit no law", odd, wear.CauseCannotTell, "chi squared"},
		{"steeper than any leak", steep, wear.CauseCannotTell, "a negative opening"},
		{"two readings", leaky(l, 0, s, 2, 2e6, nil), wear.CauseUnknown, "two lines through two points"},
		{"a broken reading", broken, wear.CauseUnknown, "unknown is not fine"},
		{"no uncertainty stated", noSigma, wear.CauseUnknown, "a certain meter doesn't exist"},
		{"nothing", &wear.Evidence{}, wear.CauseUnknown, "unknown is not fine"},
	} {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, c.e.Judge().Cause) })
	}
}

// TestViscositySeparates: at one pressure, warming the water tells the laws
// apart, since only the gap cares.
func TestViscositySeparates(t *testing.T) {
	for _, c := range []struct {
		gap  float64
		want wear.Cause
	}{{0, wear.CauseValves}, {1, wear.CausePacking}} {
		e := &wear.Evidence{SigmaM3s: 1e-7, PackingSeen: true}
		for _, mu := range []float64{1.5e-3, 1.2e-3, 1.0e-3, 0.8e-3, 0.6e-3} {
			q := 1e-5
			if c.gap == 1 {
				q = 1e-5 * 1e-3 / mu
			}
			require.True(t, e.Add(wear.Slip{DropPa: 15e6, ViscosityPaS: mu, SlipM3s: q}))
		}
		require.Equal(t, c.want, e.Judge().Cause)
	}
}

// TestErrorRate draws noisy pumps and counts how often the wrong part, or any
// slip in a sound pump, is named. Two standard deviations of a normal
// distribution leave 2.3 % on one side (source: tables of the normal
// distribution); the seed is fixed.
func TestErrorRate(t *testing.T) {
	const trials, sigma = 4000, 5e-7
	rng := rand.New(rand.NewPCG(1, 2))
	wrong, named, mistaken := 0, 0, 0
	for i := range trials {
		valve, packing, bad := 6e-6, 4e-6, wear.CausePacking
		if i%2 == 1 {
			valve, packing, bad = packing, valve, wear.CauseValves
		}
		switch leaky(valve, packing, sigma, 12, 2e6, rng).Judge().Cause {
		case bad:
			wrong++
		case wear.CauseValves, wear.CausePacking:
			named++
		}
		switch leaky(0, 0, sigma, 12, 2e6, rng).Judge().Cause {
		case wear.CauseValves, wear.CausePacking:
			mistaken++
		}
	}
	t.Logf("of %d: wrong %d, right %d; of as many sound pumps %d blamed", trials, wrong, named, mistaken)
	require.Less(t, float64(wrong)/trials, 0.023)
	require.Greater(t, named, 10*wrong)
	require.Less(t, float64(mistaken)/trials, 0.023)
}

// TestJudgeRecoversParts: without noise the fit gives back what went in.
func TestJudgeRecoversParts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(0, 1e-4).Draw(t, "valve")
		p := rapid.Float64Range(0, 1e-4).Draw(t, "packing")
		n := rapid.IntRange(3, wear.MaxSlips).Draw(t, "n")
		low := rapid.Float64Range(1e6, 15e6).Draw(t, "low")
		got := leaky(v, p, 1e-7, n, low, nil).Judge()
		require.InDelta(t, v, got.ValveM3s, 1e-10)
		require.InDelta(t, p, got.PackingM3s, 1e-10)
		require.InEpsilon(t, 20e6, got.DropPa, 1e-12)
		require.False(t, got.Cause == wear.CauseValves && v <= p)
		require.False(t, got.Cause == wear.CausePacking && p <= v)
	})
}

func TestEvidenceRefuses(t *testing.T) {
	e := &wear.Evidence{}
	require.False(t, e.Add(wear.Slip{DropPa: 0, ViscosityPaS: 1e-3, SlipM3s: 1e-6}))
	require.False(t, e.Add(wear.Slip{DropPa: 1e7, ViscosityPaS: 0, SlipM3s: 1e-6}))
	require.False(t, e.Add(wear.Slip{DropPa: 1e7, ViscosityPaS: 1e-3, SlipM3s: math.NaN()}))
	for range wear.MaxSlips {
		require.True(t, e.Add(wear.Slip{DropPa: 1e7, ViscosityPaS: 1e-3, SlipM3s: 1e-6}))
	}
	require.False(t, e.Add(wear.Slip{DropPa: 1e7, ViscosityPaS: 1e-3, SlipM3s: 1e-6}), "full")
}
