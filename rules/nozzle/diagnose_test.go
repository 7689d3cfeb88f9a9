package nozzle_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/nozzle"
)

// machine is an invented 4 gpm machine with a number 5 nozzle behind a hose
// that takes 400 psi at 4 gpm.
func machine(t require.TestingT) nozzle.Expected {
	k, ok := nozzle.FactorOfNumber(5)
	require.True(t, ok)
	c, ok := nozzle.HoseCoefficient(400*psi, 4*gpm)
	require.True(t, ok)
	return nozzle.Expected{FactorM3sRootPa: k, HoseCoefficient: c, PumpM3s: 4 * gpm}
}

// reading is what the machine shows with its nozzle's factor times ratio.
func reading(e nozzle.Expected, ratio, flowM3s float64) nozzle.Reading {
	k := e.FactorM3sRootPa * ratio
	return nozzle.Reading{FlowM3s: flowM3s, FlowTol: 0.02, PressureTolPa: 20 * psi,
		OutletGaugePa: flowM3s*flowM3s/(k*k) + e.HoseCoefficient*flowM3s*flowM3s}
}

func at(flowGpm, outletPsi float64) nozzle.Reading {
	return nozzle.Reading{FlowM3s: flowGpm * gpm, OutletGaugePa: outletPsi * psi, FlowTol: 0.02, PressureTolPa: 20 * psi}
}

// Expected at 4 gpm: 2560 psi for the nozzle (4000 (4/5)^2) and 400 for the hose.
func TestDiagnose(t *testing.T) {
	e := machine(t)
	jet := nozzle.Facts{Meter: nozzle.MeterJet, Trigger: nozzle.TriggerOpen}
	pump := nozzle.Facts{Meter: nozzle.MeterPump}
	with := func(f nozzle.Facts, tr nozzle.Trigger, u nozzle.Unloader) nozzle.Facts {
		f.Trigger, f.Unloader = tr, u
		return f
	}
	open, shut := nozzle.TriggerOpen, nozzle.TriggerClosed
	loaded, bypass := nozzle.UnloaderLoaded, nozzle.UnloaderBypassing
	noTr, noUn := nozzle.TriggerUnknown, nozzle.UnloaderUnknown
	for _, c := range []struct {
		name  string
		r     nozzle.Reading
		f     nozzle.Facts
		want  nozzle.Finding
		cands nozzle.Candidates
		needs nozzle.Needs
	}{
		{"rated", at(4, 2960), jet, nozzle.AsExpected, nozzle.MayBeFine, 0},
		{"a little low", at(4, 2700), jet, nozzle.AsExpected, nozzle.MayBeFine, 0},
		{"worn by 15 %, jet meter", reading(e, 1.15, 4*gpm), jet, nozzle.Worn, nozzle.MayBeWorn | nozzle.MayBeLeaking, nozzle.NeedLook},
		{"worn by 15 %, pump meter", reading(e, 1.15, 4*gpm), pump, nozzle.Worn, nozzle.MayBeWorn | nozzle.MayBeLeaking | nozzle.MayBeDumping,
			nozzle.NeedUnloader | nozzle.NeedTrigger | nozzle.NeedLook},
		{"too much for wear alone", reading(e, 1.6, 4*gpm), jet, nozzle.CannotTell, nozzle.MayBeWorn | nozzle.MayBeLeaking, nozzle.NeedLook},
		{"partly blocked", reading(e, 0.8, 3*gpm), jet, nozzle.Blocked, nozzle.MayBeBlocked, 0},
		{"blocked or trigger closed", reading(e, 0.8, 3*gpm), pump, nozzle.CannotTell, nozzle.MayBeBlocked | nozzle.MayBeClosed, nozzle.NeedTrigger},
		{"wholly blocked", at(0, 3500), jet, nozzle.Blocked, nozzle.MayBeBlocked, 0},
		{"no flow, pressure, trigger unknown", at(0, 3500), pump, nozzle.CannotTell, nozzle.MayBeBlocked | nozzle.MayBeClosed, nozzle.NeedTrigger},
		{"trigger closed, trapped pressure", at(0, 3500), with(jet, shut, noUn), nozzle.NotSpraying, nozzle.MayBeClosed, 0},
		{"pump at rest", at(0, 0), with(pump, open, noUn), nozzle.NotSpraying, nozzle.MayBeStopped, 0},
		{"rest or dumping", at(0, 50), jet, nozzle.NotSpraying, nozzle.MayBeStopped | nozzle.MayBeDumping, nozzle.NeedUnloader},
		{"burst, jet meter", at(4, 150), jet, nozzle.Burst, nozzle.MayBeBurst, 0},
		{"burst ahead of the gun", at(4, 150), with(jet, shut, noUn), nozzle.Burst, nozzle.MayBeBurst, 0},
		{"burst, unloader loaded", at(4, 150), with(pump, noTr, loaded), nozzle.Burst, nozzle.MayBeBurst, 0},
		{"dumping, unloader known", at(4, 150), with(pump, open, bypass), nozzle.Dumping, nozzle.MayBeDumping, 0},
		{"dumping by the trigger", at(4, 150), with(pump, shut, noUn), nozzle.Dumping, nozzle.MayBeDumping | nozzle.MayBeBurst, nozzle.NeedUnloader},
		{"burst leads by the trigger", at(4, 150), with(pump, open, noUn), nozzle.Burst, nozzle.MayBeBurst | nozzle.MayBeDumping, nozzle.NeedUnloader},
		{"burst or dumping", at(4, 150), pump, nozzle.CannotTell, nozzle.MayBeBurst | nozzle.MayBeDumping, nozzle.NeedUnloader | nozzle.NeedTrigger},
		{"burst or dumping, meter unknown", at(4, 150), nozzle.Facts{}, nozzle.CannotTell, nozzle.MayBeBurst | nozzle.MayBeDumping,
			nozzle.NeedUnloader | nozzle.NeedTrigger | nozzle.NeedMeter},
		{"half the flow without pressure", at(2, 30), jet, nozzle.CannotTell, nozzle.MayBeBurst | nozzle.MayBeLeaking | nozzle.MayBeWorn, nozzle.NeedLook},
		{"bypass under pressure", at(4, 1500), with(pump, open, bypass), nozzle.Dumping, nozzle.MayBeDumping, 0},
		{"flow with the trigger closed", at(2, 2000), with(jet, shut, noUn), nozzle.CannotTell, nozzle.MayBeLeaking | nozzle.MayBeBurst, nozzle.NeedLook},
		{"circulating with the trigger closed", at(4, 2960), with(pump, shut, noUn), nozzle.NotSpraying, nozzle.MayBeClosed, 0},
	} {
		d := nozzle.Diagnose(c.r, e, c.f, nozzle.DefaultLimits())
		require.Equal(t, c.want, d.Finding, "%s: %s", c.name, d.Finding)
		require.Equal(t, c.cands, d.Candidates, c.name)
		require.Equal(t, c.needs, d.Needs, c.name)
		require.True(t, d.Candidates.Has(c.cands) && d.Needs.Has(c.needs))
	}
}

// By hand: 2560 psi at the nozzle and 400 in the hose; the flow's 2 % counts
// 1 + 400/2560 fold, the pressure's 20 psi as 20/5120.
func TestResidualToleranceByHand(t *testing.T) {
	e := machine(t)
	d := nozzle.Diagnose(at(4, 2960), e, nozzle.Facts{Meter: nozzle.MeterJet}, nozzle.DefaultLimits())
	require.InDelta(t, 1, d.FactorRatio, 1e-6)
	require.InDelta(t, math.Hypot(0.02*1.15625, 0.00390625), d.ResidualTol, 1e-7)
	require.InEpsilon(t, 2960*psi, d.ExpectedPa, 1e-6)
}

func TestHoseTakesMoreThanThereIs(t *testing.T) {
	e := machine(t)
	k, _ := nozzle.FactorOfNumber(20) // nearly all of the pressure goes to the hose
	e.FactorM3sRootPa = k
	d := nozzle.Diagnose(at(4, 300), e, nozzle.Facts{Meter: nozzle.MeterJet}, nozzle.DefaultLimits())
	require.Equal(t, nozzle.CannotTell, d.Finding)
	require.False(t, d.RatioKnown)
	require.True(t, d.Candidates.Has(nozzle.MayBeBurst))
}

func TestPoorSensorsCannotTell(t *testing.T) {
	e := machine(t)
	r := reading(e, 1.15, 4*gpm)
	r.FlowTol = 0.2
	d := nozzle.Diagnose(r, e, nozzle.Facts{Meter: nozzle.MeterJet}, nozzle.DefaultLimits())
	require.Equal(t, nozzle.CannotTell, d.Finding)
	require.True(t, d.Needs.Has(nozzle.NeedBetterReading))
	require.True(t, d.Candidates.Has(nozzle.MayBeFine))
}

func TestDiagnoseRefuses(t *testing.T) {
	e, l, good := machine(t), nozzle.DefaultLimits(), at(4, 2960)
	nan := good
	nan.OutletGaugePa = math.NaN()
	require.Equal(t, nozzle.Diagnosis{}, nozzle.Diagnose(nan, e, nozzle.Facts{}, l))
	require.Equal(t, nozzle.InputUnknown, nozzle.Diagnose(good, nozzle.Expected{}, nozzle.Facts{}, l).Finding)
	require.Equal(t, nozzle.InputUnknown, nozzle.Diagnose(good, e, nozzle.Facts{}, nozzle.Limits{}).Finding)
}

// The residual finds the wear put in, whatever the pump's speed and the hose.
func TestResidualRecoversTheFactor(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := machine(t)
		e.HoseCoefficient *= rapid.Float64Range(0, 3).Draw(t, "hose")
		ratio := rapid.Float64Range(0.7, 1.3).Draw(t, "ratio")
		q := rapid.Float64Range(0.5, 1).Draw(t, "speed") * e.PumpM3s
		d := nozzle.Diagnose(reading(e, ratio, q), e, nozzle.Facts{Meter: nozzle.MeterJet}, nozzle.DefaultLimits())
		require.True(t, d.RatioKnown)
		require.InDelta(t, ratio-1, d.Residual, 1e-9)
		if math.Abs(ratio-1) < 1e-9 {
			return
		}
		require.Equal(t, ratio < 1, d.ResidualPa > 0, "a blocked nozzle needs more pressure")
	})
}

// More facts never add an explanation.
func TestFactsOnlyNarrow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := machine(t)
		r := at(rapid.Float64Range(3.3, 4.4).Draw(t, "gpm"), rapid.Float64Range(0, 600).Draw(t, "psi"))
		blind := nozzle.Diagnose(r, e, nozzle.Facts{}, nozzle.DefaultLimits())
		if blind.Finding != nozzle.CannotTell {
			t.Skip()
		}
		for _, u := range []nozzle.Unloader{nozzle.UnloaderLoaded, nozzle.UnloaderBypassing} {
			d := nozzle.Diagnose(r, e, nozzle.Facts{Unloader: u}, nozzle.DefaultLimits())
			require.True(t, blind.Candidates.Has(d.Candidates), "%b has %b", blind.Candidates, d.Candidates)
		}
	})
}

func TestStringsAreDistinct(t *testing.T) {
	seen := map[string]bool{}
	for f := nozzle.InputUnknown; f <= nozzle.CannotTell; f++ {
		require.False(t, seen[f.String()])
		seen[f.String()] = true
	}
	require.Equal(t, "unknown", nozzle.Finding(99).String())
}

func FuzzDiagnose(f *testing.F) {
	f.Add(2.5e-4, 2e7, 0.02, 1e5, 2.4e-8, 4e13, 2.5e-4, uint8(0), uint8(0), uint8(0))
	f.Add(0.0, 0.0, 0.0, 0.0, 1e-12, 1e25, 1.0, uint8(1), uint8(2), uint8(2))
	f.Add(math.NaN(), math.Inf(1), -1.0, 5e-324, 1e300, -1e300, 0.0, uint8(9), uint8(9), uint8(9))
	f.Fuzz(func(t *testing.T, q, p, tolQ, tolP, k, c, pump float64, tr, un, me uint8) {
		d := nozzle.Diagnose(nozzle.Reading{FlowM3s: q, OutletGaugePa: p, FlowTol: tolQ, PressureTolPa: tolP},
			nozzle.Expected{FactorM3sRootPa: k, HoseCoefficient: c, PumpM3s: pump},
			nozzle.Facts{Trigger: nozzle.Trigger(tr), Unloader: nozzle.Unloader(un), Meter: nozzle.Meter(me)}, nozzle.DefaultLimits())
		for i, x := range []float64{d.FactorRatio, d.Residual, d.ResidualTol, d.ExpectedPa, d.ResidualPa} {
			require.False(t, math.IsNaN(x) || math.IsInf(x, 0), "number %d is %g", i, x)
		}
		if d.Finding == nozzle.InputUnknown {
			require.Equal(t, nozzle.Diagnosis{}, d)
			return
		}
		require.NotZero(t, d.Candidates, "a finding names what fits")
	})
}

func BenchmarkDiagnose(b *testing.B) {
	e := machine(b)
	r, l := at(4, 2700), nozzle.DefaultLimits()
	b.ReportAllocs()
	for b.Loop() {
		nozzle.Diagnose(r, e, nozzle.Facts{Meter: nozzle.MeterPump}, l)
	}
}
