package rig_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/bench"
	"headroom/daemon/bench/rig"
	"headroom/sensors/plant"
)

// TestTruthIsThePlants: the true figures are what the plant was built with, so
// that the proof doesn't compare the figures' code with itself alone. Source:
// the plant's own constants: slip grows with pressure, by its share (and that
// of the wear) at rated pressure.
func TestTruthIsThePlants(t *testing.T) {
	setup := benchSetup(t)
	c := plant.Typical().Pump
	for _, wear := range []float64{0, 0.05, 0.2} {
		truth, err := rig.Draw(rig.New, rand.New(rand.NewPCG(4, 4)))
		require.NoError(t, err)
		truth.ValveWear, truth.PackingWear = wear, 0
		tr, err := rig.Record(truth, setup.Pump, setup.Plan)
		require.NoError(t, err)
		rng := rand.New(rand.NewPCG(1, 1))
		test, err := tr.Run(setup, rig.NewSensors(setup.Instruments, rng), rng)
		require.NoError(t, err)
		slip := c.SlipShare*c.DisplacementM3*c.RatedSpeedHz + wear*c.RatedFlowM3s
		speed := test.True.Figure(bench.SpeedAtPlate).Value
		want := 1 - slip*setup.Pump.PressurePa/c.RatedOutletPa/(c.DisplacementM3*speed)
		require.InDelta(t, want, test.True.Figure(bench.VolumetricEff).Value, 0.002, "wear %v", wear)
		require.InDelta(t, tr.NPSHRequiredM, test.True.Figure(bench.NPSHRequired).Value, 0.04)
		require.InDelta(t, tr.Told[bench.Bucket], test.True.Entries[0].Value, 1e-12)
	}
}

func TestUnknownCondition(t *testing.T) {
	_, err := rig.Draw("rusty", rand.New(rand.NewPCG(1, 1)))
	require.ErrorContains(t, err, "worn-valves")
}
