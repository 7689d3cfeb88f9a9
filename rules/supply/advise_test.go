package supply_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/hydraulics"
	"headroom/rules/supply"
)

// water near 15 C, smooth hose.
func friction(lengthM, boreM, flowM3s float64) (float64, bool) {
	l, ok := hydraulics.PipeLoss(hydraulics.Pipe{LengthM: lengthM, BoreM: boreM, RoughnessM: 1.5e-6},
		hydraulics.Water{DensityKgM3: 999.1, ViscosityPaS: 1.138e-3}, flowM3s)
	return l.Pa, ok
}

var garden = supply.Hose{LengthM: 30, BoreM: 0.75 * 0.0254}

// mixed is a tap that loses tapBar at 20 L/min and 30 m of 3/4 in hose, as a
// test at 30 L/min would show it.
func mixed(t require.TestingT, tapBar float64) supply.Test {
	hose, ok := friction(garden.LengthM, garden.BoreM, 30*lmin)
	require.True(t, ok)
	return test(4, [2]float64{30, 4 - tapBar*2.25 - hose/bar})
}

func site() supply.Site {
	return supply.Site{Hose: garden, TankM3: 0.2, TankHeadM: 0.5, DensityKgM3: 998,
		Duty: supply.Duty{OnS: 120, OffS: 120, JobS: 1800}}
}

func TestHoseShare(t *testing.T) {
	s := supply.HoseShare(mixed(t, 0.4), garden, friction)
	require.Equal(t, supply.ShareOK, s.Status)
	require.InDelta(t, 0.9*bar, s.TapPa, 1, "the tap's part is what the case was built from")
	require.InDelta(t, 1, s.Fraction+s.TapPa/s.DropPa, 1e-12)
	require.Equal(t, supply.ShareUnknown, supply.HoseShare(mixed(t, 0.4), supply.Hose{LengthM: 30}, friction).Status)
	require.Equal(t, supply.ShareUnknown, supply.HoseShare(mixed(t, 0.4), garden, nil).Status)
	long := supply.HoseShare(mixed(t, 0.4), supply.Hose{LengthM: 300, BoreM: garden.BoreM}, friction)
	require.Equal(t, supply.ShareAboveDrop, long.Status)
	require.Zero(t, long.TapPa)
	refuse := func(_, _, _ float64) (float64, bool) { return 0, false }
	require.Equal(t, supply.ShareOutOfRange, supply.HoseShare(mixed(t, 0.4), garden, refuse).Status)
}

func TestAdviseHoses(t *testing.T) {
	need := supply.Need{PumpM3s: 45 * lmin, InletGaugePa: bar}
	tap := mixed(t, 0.1)
	before := supply.Judge(tap, need)
	a := supply.Advise(tap, need, site(), friction)
	require.Equal(t, supply.HelpOK, a.LargerHose.Status)
	require.InDelta(t, 0.0254, a.LargerHose.Hose.BoreM, 1e-12, "1 in comes after 3/4 in")
	require.Greater(t, a.LargerHose.LowM3s, before.Result.Flow.Low)
	require.True(t, a.LargerHose.InletOK)
	require.Greater(t, a.LargerHose.InletLowPa, before.Pump.Inlet.Low)
	require.InDelta(t, 15, a.ShorterHose.Hose.LengthM, 1e-12)
	require.Greater(t, a.LargerHose.Ratio, a.ShorterHose.Ratio, "a bore counts to the fifth power, a length once")
	none := site()
	none.Hose.BoreM = 0.06
	require.Equal(t, supply.HelpNone, supply.Advise(tap, need, none, friction).LargerHose.Status)
	blind := supply.Advise(tap, need, supply.Site{}, friction)
	require.Equal(t, supply.Advice{}, blind, "nothing known, nothing guessed")
}

// Where the tap takes it all, a hose helps little.
func TestHoseHelpsLittleBehindABadTap(t *testing.T) {
	need := supply.Need{PumpM3s: 45 * lmin, InletGaugePa: bar}
	bad := supply.Advise(mixed(t, 0.9), need, site(), friction).LargerHose.Ratio
	good := supply.Advise(mixed(t, 0.05), need, site(), friction).LargerHose.Ratio
	require.Greater(t, good, bad)
	require.Greater(t, bad, 1.0)
}

func TestAdviseNozzle(t *testing.T) {
	need := supply.Need{PumpM3s: 60 * lmin, NozzleM3s: 60 * lmin, BypassM3s: 2 * lmin, InletGaugePa: bar}
	tap := mixed(t, 0.5)
	require.Equal(t, supply.HelpNeedsReturn, supply.Advise(tap, need, site(), friction).SmallerNozzle.Status)
	need.Return = supply.ReturnToInlet
	h := supply.Advise(tap, need, site(), friction).SmallerNozzle
	require.Equal(t, supply.HelpOK, h.Status)
	require.Equal(t, supply.Yes, h.Verdict, "sized for the lower curve, it must pass")
	require.Less(t, h.SizeFactor, 1.0)
	require.InEpsilon(t, supply.Judge(tap, need).Result.Flow.Low, h.DrawM3s, 1e-9, "as large as the supply allows")
	require.InEpsilon(t, h.NozzleM3s, h.SizeFactor*need.NozzleM3s, 1e-9)
	require.GreaterOrEqual(t, h.InletHighPa, bar)
	need.InletGaugePa = 4.5 * bar
	require.Equal(t, supply.HelpImpossible, supply.Advise(tap, need, site(), friction).SmallerNozzle.Status)
}

func TestAdviseTank(t *testing.T) {
	need := supply.Need{PumpM3s: 120 * lmin, InletGaugePa: 0.03 * bar}
	tank := supply.Advise(mixed(t, 0.5), need, site(), friction).Tank
	require.Equal(t, supply.HelpOK, tank.Status)
	require.True(t, tank.MeetsInlet, "0.5 m of water is 0.049 bar")
	require.InDelta(t, 998*9.80665*0.5, tank.InletGaugePa, 1e-9)
	require.Positive(t, tank.LastS)
	require.False(t, tank.Endless)
	big := site()
	big.TankM3 = 5
	require.Equal(t, supply.Yes, supply.Advise(mixed(t, 0.5), need, big, friction).Tank.Verdict)
	need.InletGaugePa = bar
	require.Equal(t, supply.Marginal, supply.Advise(mixed(t, 0.5), need, big, friction).Tank.Verdict, "it lasts but stands too low")
}

// simulate empties a tank in small steps, the plain way.
func simulate(v, draw, fill float64, d supply.Duty, limitS float64) (float64, bool) {
	const dt = 0.01
	level := v
	for i := 0; float64(i)*dt < limitS; i++ {
		s := float64(i) * dt
		level += fill * dt
		if math.Mod(s, d.OnS+d.OffS) < d.OnS {
			level -= draw * dt
		}
		if level = math.Min(level, v); level < 0 {
			return s, false
		}
	}
	return 0, true
}

func TestTankLastAgainstSimulation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := supply.Duty{OnS: float64(rapid.IntRange(10, 60).Draw(t, "on")), OffS: float64(rapid.IntRange(0, 60).Draw(t, "off"))}
		draw := rapid.Float64Range(20, 60).Draw(t, "draw") * lmin
		fill := rapid.Float64Range(0, 19).Draw(t, "fill") * lmin
		v := rapid.Float64Range(0.002, 0.1).Draw(t, "v")
		got, endless, ok := supply.TankLast(v, draw, fill, d)
		require.True(t, ok)
		if endless {
			_, on := simulate(v, draw, fill, d, 600)
			require.True(t, on)
			return
		}
		if got > 600 {
			return
		}
		if nearWholeCycles(v, draw, fill, d) < 1e-3 {
			return // the step of the simulation decides which cycle it is
		}
		want, on := simulate(v, draw, fill, d, got+d.OnS+d.OffS+1)
		require.False(t, on)
		require.InDelta(t, want, got, 0.2)
	})
}

// nearWholeCycles is how near a whole number of cycles is to emptying the tank, as
// a fraction of a cycle's loss.
func nearWholeCycles(v, draw, fill float64, d supply.Duty) float64 {
	net := draw - fill
	x := (v - net*d.OnS) / (net*d.OnS - fill*d.OffS)
	return math.Abs(x - math.Round(x))
}

func TestNextBore(t *testing.T) {
	b, ok := supply.NextBore(0.019)
	require.True(t, ok)
	require.InDelta(t, 0.0254, b, 1e-12, "a 19 mm hose is a 3/4 in hose")
	_, ok = supply.NextBore(0)
	require.False(t, ok)
	_, ok = supply.NextBore(math.NaN())
	require.False(t, ok)
}
