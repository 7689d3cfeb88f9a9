package motor_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/circuit/motor"
)

func bandModel(t require.TestingT) motor.Overload {
	o, err := motor.NewOverload(motor.OverloadConfig{RatedA: 15, K: 1.15, TauS: 400, CoolTauS: 900})
	require.NoError(t, err)
	return o
}

// Source of the wanted values: IEC 60255-149 in closed form, by hand.
func TestBandOfAMotorNobodyKnows(t *testing.T) {
	o := bandModel(t)
	b, ok := o.BandUnknown()
	require.True(t, ok)
	require.Zero(t, b.Least.Theta)
	require.InDelta(t, 1/(1.15*1.15), b.Most.Theta, 1e-12, "a long time at the rated current")

	b.Most.Theta, b.Least.Theta = 1.09, 1.09
	c, ok := o.StepBandUnknown(b, 18, 3600)
	require.True(t, ok)
	require.InDelta(t, 1.09*math.Exp(-3600.0/400), c.Least.Theta, 1e-9, "it may have stood")
	ss := 18.0 / 17.25 * 18 / 17.25
	require.InDelta(t, ss+(1.09-ss)*math.Exp(-3600.0/900), c.Most.Theta, 1e-9, "it may have gone on at 18 A")

	_, ok = motor.Overload{}.BandUnknown()
	require.False(t, ok)
	_, ok = o.StepBand(b, 2, 1, 1)
	require.False(t, ok)
}

// Whatever the motor really carried, up to what was last seen, lies in the band.
func TestTheBandHoldsTheTruth(t *testing.T) {
	o := bandModel(t)
	rapid.Check(t, func(t *rapid.T) {
		lastA := rapid.Float64Range(0, 90).Draw(t, "last")
		start := motor.OverloadState{Theta: rapid.Float64Range(0, 2).Draw(t, "theta")}
		b := motor.OverloadBand{Least: start, Most: start}
		truth := start
		for range rapid.IntRange(1, 20).Draw(t, "steps") {
			dt := rapid.Float64Range(0, 2000).Draw(t, "dt")
			a := rapid.Float64Range(0, math.Max(lastA, 15)).Draw(t, "truth")
			var ok bool
			b, ok = o.StepBandUnknown(b, lastA, dt)
			require.True(t, ok)
			truth, ok = o.Step(truth, a, dt)
			require.True(t, ok)
			require.LessOrEqual(t, b.Least.Theta, truth.Theta+1e-9)
			require.GreaterOrEqual(t, b.Most.Theta, truth.Theta-1e-9)
		}
	})
}
