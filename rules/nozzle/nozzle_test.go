package nozzle_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/hydraulics"
	"headroom/rules/nozzle"
)

const (
	psi   = 6894.757293168
	gpm   = 6.30901964e-5
	inch  = 0.0254
	water = 999.0
)

// friction of a smooth hose with water near 15 C.
func friction(lengthM, boreM, flowM3s float64) (float64, bool) {
	l, ok := hydraulics.PipeLoss(hydraulics.Pipe{LengthM: lengthM, BoreM: boreM, RoughnessM: 1.5e-6},
		hydraulics.Water{DensityKgM3: water, ViscosityPaS: 1.138e-3}, flowM3s)
	return l.Pa, ok
}

func TestFlowDropRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.Float64Range(0.3e-3, 5e-3).Draw(t, "diameter")
		k, ok := nozzle.Factor(rapid.Float64Range(0.6, 1).Draw(t, "cd"), math.Pi/4*d*d, water)
		require.True(t, ok)
		p := rapid.Float64Range(1e4, 1e8).Draw(t, "drop")
		q, ok := nozzle.Flow(k, p)
		require.True(t, ok)
		back, ok := nozzle.Drop(k, q)
		require.True(t, ok)
		require.InEpsilon(t, p, back, 1e-12)
		again, ok := nozzle.FactorFrom(q, p)
		require.True(t, ok)
		require.InEpsilon(t, k, again, 1e-12)
		number, ok := nozzle.NumberOf(k)
		require.True(t, ok)
		same, ok := nozzle.FactorOfNumber(number)
		require.True(t, ok)
		require.InEpsilon(t, k, same, 1e-12)
	})
}

func TestAreaFactorRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cd := rapid.Float64Range(0.5, 1).Draw(t, "cd")
		a := rapid.Float64Range(1e-8, 1e-3).Draw(t, "area")
		n := rapid.IntRange(1, 12).Draw(t, "holes")
		k, ok := nozzle.Factor(cd, a, water)
		require.True(t, ok)
		back, ok := nozzle.AreaOf(k, cd, water)
		require.True(t, ok)
		require.InEpsilon(t, a, back, 1e-12)
		d, ok := nozzle.DiameterOf(back, n)
		require.True(t, ok)
		require.InEpsilon(t, a, float64(n)*math.Pi/4*d*d, 1e-12)
	})
}

// A jet carries its whole power: reaction times half its velocity is Q dp.
func TestPowerBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := rapid.Float64Range(1e-5, 1e-2).Draw(t, "flow")
		p := rapid.Float64Range(1e4, 1e8).Draw(t, "drop")
		rho := rapid.Float64Range(900, 1200).Draw(t, "rho")
		v, ok := nozzle.JetVelocity(p, rho)
		require.True(t, ok)
		w, ok := nozzle.Power(q, p)
		require.True(t, ok)
		require.InEpsilon(t, w, rho*q*v*v/2, 1e-12, "kinetic energy per time")
	})
}

// The head's pull is the reaction of its flow when all jets point one way.
func TestPullIsReaction(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := nozzle.Head{Cd: rapid.Float64Range(0.6, 1).Draw(t, "cd")}
		h.Groups[2] = nozzle.Group{Count: rapid.IntRange(1, 8).Draw(t, "n"), DiameterM: rapid.Float64Range(5e-4, 3e-3).Draw(t, "d")}
		p := rapid.Float64Range(1e5, 5e7).Draw(t, "drop")
		k, ok := h.Factor(water)
		require.True(t, ok)
		q, ok := nozzle.Flow(k, p)
		require.True(t, ok)
		want := q * math.Sqrt(2*water*p) // rho Q v: momentum balance
		got, ok := h.Pull(p)
		require.True(t, ok)
		require.InEpsilon(t, want, got, 1e-12)
		angle := rapid.Float64Range(0, math.Pi/2).Draw(t, "angle")
		h.Groups[2].AngleRad = angle
		turned, ok := h.Pull(p)
		require.True(t, ok)
		require.InDelta(t, want*math.Cos(angle), turned, 1e-14*want, "our cosine against the standard library's")
		h.Groups[2].Forward = true
		back, ok := h.Pull(p)
		require.True(t, ok)
		require.Equal(t, -turned, back)
	})
}

func TestRefusals(t *testing.T) {
	bad := func(_ float64, ok bool) { t.Helper(); require.False(t, ok) }
	bad(nozzle.Factor(1.1, 1e-6, water))
	bad(nozzle.Factor(0.9, 0, water))
	bad(nozzle.Factor(0.9, 1e-6, 13600))
	bad(nozzle.Flow(1e-8, -1))
	bad(nozzle.Flow(math.NaN(), 1e5))
	bad(nozzle.Drop(1e-12, 1))
	bad(nozzle.FactorFrom(1e-4, 0))
	bad(nozzle.FactorOfNumber(0))
	bad(nozzle.NumberOf(math.Inf(1)))
	bad(nozzle.Head{Cd: 1}.Area())
	bad(nozzle.Head{Cd: 1}.Pull(1e5))
	bad(nozzle.Power(-1, 1))
	bad(nozzle.DiameterOf(1e-6, 0))
	bad(nozzle.HoseCoefficient(1e5, 0))
	steep := nozzle.Head{Cd: 1}
	steep.Groups[0] = nozzle.Group{Count: 1, DiameterM: 1e-3, AngleRad: 2}
	bad(steep.Pull(1e5))
}
