package plant_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/sensors/plant"
)

// worked runs the typical machine into its own nozzle for 20 s.
func worked(t *testing.T, spoil func(in *plant.Inputs)) plant.State {
	p, err := plant.New(plant.Typical())
	require.NoError(t, err)
	in := plant.Idle()
	in.TapOpen, in.TriggerOpen, in.SwitchOn = 1, true, true
	spoil(&in)
	s := p.Start(&in)
	for range 2000 {
		p.Step(&s, &in, 0.01)
	}
	return s
}

// TestPackingLeaksToTheGround: the meter at the inlet still counts the water,
// the nozzle doesn't get it. Source: conservation of mass.
func TestPackingLeaksToTheGround(t *testing.T) {
	sound := worked(t, func(*plant.Inputs) {})
	worn := worked(t, func(in *plant.Inputs) { in.PackingWear = 0.1 })
	require.Zero(t, sound.PackingM3s)
	require.InEpsilon(t, worn.SupplyM3s, worn.NozzleM3s+worn.PackingM3s, 1e-3)
	require.InEpsilon(t, sound.SupplyM3s, worn.SupplyM3s, 0.02)
	require.Less(t, worn.OutletGaugePa, 0.9*sound.OutletGaugePa)
}

// TestBeltSlips: the drive turns on and the pump falls behind, the more the
// harder it works.
func TestBeltSlips(t *testing.T) {
	sound := worked(t, func(*plant.Inputs) {})
	require.Equal(t, sound.SpeedHz, sound.PumpHz)
	slips := worked(t, func(in *plant.Inputs) { in.BeltSlip = 0.1 })
	light := worked(t, func(in *plant.Inputs) { in.BeltSlip, in.NozzleScale = 0.1, 3 })
	lost := func(s plant.State) float64 { return 1 - s.PumpHz/s.SpeedHz }
	require.Greater(t, lost(slips), 0.05)
	require.Less(t, lost(light), lost(slips)/2)
	require.InEpsilon(t, sound.SupplyM3s*slips.PumpHz/sound.PumpHz, slips.SupplyM3s, 0.02, "flow goes with the pump's speed")
}
