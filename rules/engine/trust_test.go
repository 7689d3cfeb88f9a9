package engine_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

// feedNoisy feeds f with the channel moving by the size up and down.
func (r *rig) feedNoisy(f frame.Frame, c frame.Channel, size float64, d time.Duration) *engine.Verdicts {
	var v *engine.Verdicts
	base := f.Samples[c].Value
	for i := 0; i < int(d/tick); i++ {
		f.Samples[c].Value = base + size*math.Sin(float64(i)*1.7)
		v = r.feed(f, tick)
	}
	return v
}

func TestASpikeIsSuspectAndANewLevelIsReal(t *testing.T) {
	cfg := fixture()
	cfg.Signals[frame.WaterTemp].MaxRate = 5 // K/s: no water heats faster
	r := newRig(t, cfg)
	r.running()
	f := healthy()
	f.Set(frame.WaterTemp, 360)
	v := r.feed(f, tick)
	require.Equal(t, frame.Suspect, v.Samples[frame.WaterTemp].Status)
	require.Equal(t, engine.NoReading, v.Rules[engine.WaterHot].Judge)
	v = r.feed(healthy(), tick)
	require.Equal(t, frame.Good, v.Samples[frame.WaterTemp].Status, "one spike costs one frame")
	require.Empty(t, r.log)
	v = r.feed(f, 4*time.Second)
	require.Equal(t, frame.Good, v.Samples[frame.WaterTemp].Status, "what stays is real")
}

func TestNoiseThatVanishesAndNoiseThatDrowns(t *testing.T) {
	cfg := fixture()
	cfg.Signals[frame.MotorCurrent].MinNoise = 0.01
	cfg.Signals[frame.MotorCurrent].MaxNoise = 2
	cfg.Signals[frame.MotorCurrent].StuckAfter = 5 * time.Second
	for _, c := range []struct {
		name  string
		noise float64
		want  frame.Status
	}{
		{"live", 0.1, frame.Good}, {"frozen but for the last bits", 0.001, frame.Stuck}, {"loose plug", 6, frame.Suspect},
	} {
		r := newRig(t, cfg)
		r.running()
		v := r.feedNoisy(healthy(), frame.MotorCurrent, c.noise, 20*time.Second)
		require.Equal(t, c.want, v.Samples[frame.MotorCurrent].Status, c.name)
	}
}

func TestOtherChannelsContradict(t *testing.T) {
	for _, c := range []struct {
		name string
		set  map[frame.Channel]float64
		who  frame.Channel
	}{
		{"clamp off the wire", map[frame.Channel]float64{frame.MotorCurrent: 0}, frame.MotorCurrent},
		{"speed pick-up broken", map[frame.Channel]float64{frame.ShaftSpeed: 0}, frame.ShaftSpeed},
	} {
		r := newRig(t, fixture())
		r.running()
		f := healthy()
		for ch, v := range c.set {
			f.Set(ch, v)
		}
		v := r.feed(f, 2*time.Second)
		require.Equal(t, frame.Good, v.Samples[c.who].Status, c.name)
		v = r.feed(f, 5*time.Second)
		require.Equal(t, frame.Suspect, v.Samples[c.who].Status, c.name)
		require.True(t, v.Alarms[engine.SensorAlarm(c.who)].Active)
		require.Equal(t, frame.Good, r.feed(healthy(), tick).Samples[c.who].Status)
	}
}

func TestInletThatIgnoresAStart(t *testing.T) {
	r := newRig(t, fixture())
	rest, work := stopped(), healthy()
	rest.Set(frame.InletPressure, 250e3)
	work.Set(frame.InletPressure, 250.1e3)
	r.feed(rest, 3*time.Second)
	v := r.feed(work, 10*time.Second)
	require.Equal(t, frame.Suspect, v.Samples[frame.InletPressure].Status)
	work.Set(frame.InletPressure, 231e3) // any supply gives way
	v = r.feed(work, 5*time.Second)
	require.Equal(t, frame.Good, v.Samples[frame.InletPressure].Status)
}
