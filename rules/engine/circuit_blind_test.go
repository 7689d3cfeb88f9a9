package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

// A voltage that is computed from the current is unknown without it: an alarm
// that stood may not go because the clamp failed.
func TestComputedVoltageIsBlindWithoutItsCurrent(t *testing.T) {
	cfg := fixture()
	cfg.Signals[frame.SupplyVoltage].Fitted = false
	cfg.Plant.CircuitV, cfg.Plant.CordOhm = 120, 1 // 14 A lose 14 V; source: Ohm's law
	r := newRig(t, cfg)
	v := r.running()
	require.InDelta(t, 106, v.Rules[engine.MotorVoltage].Value, 0.01)
	require.True(t, v.Alarms[engine.ActAlarm(engine.MotorVoltage)].Active)
	f := healthy()
	f.Samples[frame.MotorCurrent].Status = frame.Failed
	v = r.feed(f, 10*time.Second)
	require.Equal(t, engine.NoReading, v.Rules[engine.MotorVoltage].Judge)
	require.Equal(t, frame.MotorCurrent, v.Rules[engine.MotorVoltage].Blame)
	require.True(t, v.Alarms[engine.ActAlarm(engine.MotorVoltage)].Active, "nobody has seen it return")
}

// Without the motor's plate nothing says below which current it stands: the
// rule is not set, and the clamp, which reads well, is not to blame.
func TestPowerLostNeedsThePlate(t *testing.T) {
	cfg := fixture()
	cfg.Signals[frame.PowerPresent].Fitted = false
	cfg.Plant.RatedA = 0
	cfg.Rules[engine.PowerLost].Lacks = "motor.rated_current"
	v := newRig(t, cfg).running()
	require.Equal(t, engine.NotSet, v.Rules[engine.PowerLost].Judge)
	require.Equal(t, "motor.rated_current", v.Rules[engine.PowerLost].Lacks)
}
