package engine_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

// unloaded is the machine at work with its unloader turned down to a share of
// the pressure: the nozzle lets through its root, and what the pump gives
// beyond that goes back. Source: orifice law; the motor's current on a straight
// line from 6 A without load to 15 A.
func unloaded(share float64) frame.Frame {
	f := healthy()
	f.Set(frame.OutletPressure, 9e6*share)
	f.Set(frame.Flow, 7.6e-3/60*math.Sqrt(share))
	f.Set(frame.MotorCurrent, 6+8*share)
	return f
}

// Turning the unloader down is what circuit_load's own words ask for.
func TestUnloadingIsNoStarvation(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	v := r.feed(unloaded(0.5), 2*time.Minute)
	f := &v.Rules[engine.FlowShort]
	require.Equal(t, engine.Warning, v.Level)
	require.True(t, v.Alarms[engine.WarnAlarm(engine.FlowShort)].Active)
	require.False(t, v.Alarms[engine.ActAlarm(engine.FlowShort)].Active)
	require.Equal(t, engine.CauseUnloaderOrWear, f.Cause)
	require.InDelta(t, math.Sqrt(0.5), f.Value, 1e-3, "the value is told as it is")
	require.InDelta(t, 0.9, f.Limit, 1e-9)
	require.Equal(t, engine.MayBypass, v.Rules[engine.Wear].Judge)
	require.Zero(t, v.Blind)
	for _, a := range []engine.AlarmID{
		engine.WarnAlarm(engine.Wear), engine.WarnAlarm(engine.Cavitation), engine.WarnAlarm(engine.Discharge),
	} {
		require.False(t, v.Alarms[a].Active, a.String())
	}
	require.NotEqual(t, engine.CauseWornPump, v.Rules[engine.Cavitation].Cause)
}

// Few pumps' papers state their NPSH. At 250 kPa of tap pressure no pump is
// short of it: 351 kPa absolute less 2 kPa of vapour are 35 m of head, and
// plunger pumps need less than 10 m (common practice, no source).
func TestUnloadingIsNoStarvationWithoutNPSH(t *testing.T) {
	for _, c := range []struct {
		name  string
		alter func(cfg *engine.Config, f *frame.Frame)
		act   bool
	}{
		{"NPSH not stated", func(*engine.Config, *frame.Frame) {}, false},
		{"and the inlet not judged", func(cfg *engine.Config, _ *frame.Frame) { cfg.Rules[engine.InletLow].On = false }, true},
		{"and the inlet low", func(_ *engine.Config, f *frame.Frame) { f.Set(frame.InletPressure, 60e3) }, true},
		{"and nobody knows the inlet", func(_ *engine.Config, f *frame.Frame) {
			f.Samples[frame.InletPressure] = frame.Sample{Status: frame.Failed}
		}, true},
		{"and hardly any flow, whatever the gauge says", func(_ *engine.Config, f *frame.Frame) { f.Set(frame.Flow, 0.2*7.6e-3/60) }, true},
	} {
		cfg, f := fixture(), unloaded(0.5)
		cfg.Machine.AssumedNPSHRM = 0
		c.alter(&cfg, &f)
		r := newRig(t, cfg)
		r.running()
		v := r.feed(f, 20*time.Second)
		require.True(t, v.Alarms[engine.WarnAlarm(engine.FlowShort)].Active, c.name)
		require.Equal(t, c.act, v.Alarms[engine.ActAlarm(engine.FlowShort)].Active, c.name)
	}
}

// The same flow and pressure at a poor inlet is starvation.
func TestStarvationStaysUrgent(t *testing.T) {
	for _, c := range []struct {
		name string
		set  func(f *frame.Frame)
	}{
		{"inlet low", func(f *frame.Frame) { f.Set(frame.InletPressure, 15e3) }},
		{"hot water, no margin", func(f *frame.Frame) {
			f.Set(frame.InletPressure, 75e3)
			f.Set(frame.WaterTemp, 388.15)
		}},
		{"nobody knows the inlet", func(f *frame.Frame) { f.Samples[frame.InletPressure] = frame.Sample{Status: frame.Failed} }},
		{"nobody knows the water", func(f *frame.Frame) { f.Samples[frame.WaterTemp] = frame.Sample{Status: frame.Failed} }},
	} {
		r := newRig(t, fixture())
		r.running()
		f := unloaded(0.5)
		c.set(&f)
		v := r.feed(f, 10*time.Second)
		require.True(t, v.Alarms[engine.ActAlarm(engine.FlowShort)].Active, c.name)
		require.NotEqual(t, engine.CauseUnloaderOrWear, v.Rules[engine.FlowShort].Cause, c.name)
	}
}

// A nozzle of 0.7 of the size takes 0.7 of the flow at the rated pressure, and
// the unloader passes the rest back: that is the job and no fault.
func TestASmallNozzleThatTheConfigKnows(t *testing.T) {
	cfg := fixture()
	cfg.Plant.NozzleFactor *= 0.7
	r := newRig(t, cfg)
	f := healthy()
	f.Set(frame.Flow, 0.7*7.6e-3/60)
	f.Set(frame.Trigger, 1)
	r.feed(stopped(), 3*time.Second)
	v := r.feed(f, 2*time.Minute)
	require.Equal(t, engine.Normal, v.Level)
	require.InDelta(t, 1, v.Rules[engine.FlowShort].Value, 1e-6)
	require.True(t, v.Rules[engine.FlowShort].Assumed)
	// And half of that is starvation or worth a look.
	f.Set(frame.Flow, 0.35*7.6e-3/60)
	f.Set(frame.OutletPressure, 9e6/4)
	v = r.feed(f, 10*time.Second)
	require.True(t, v.Alarms[engine.WarnAlarm(engine.FlowShort)].Active)
}

// Wear is told where the unloader is known to be shut, and health always.
func TestWearNeedsAShutUnloader(t *testing.T) {
	for _, c := range []struct {
		name     string
		opensPa  float64
		share    float64
		judge    engine.Judge
		wornWarn bool
	}{
		{"sound, setting unknown", 0, 1, engine.Watching, false},
		{"short, setting unknown", 0, 0.8, engine.MayBypass, false},
		{"short, well below the setting", 9e6, 0.8, engine.Watching, true},
		{"short, at the setting", 7.3e6, 0.8, engine.MayBypass, false},
	} {
		cfg := fixture()
		cfg.Machine.UnloaderOpensPa = c.opensPa
		b := &cfg.Plant.Baseline
		b.N = 0
		for _, p := range []float64{9e6, 7.2e6} {
			pt := fixture().Plant.Baseline.Points[0]
			pt.DropPa = p
			b.Add(pt)
		}
		r := newRig(t, cfg)
		r.running()
		v := r.feed(unloaded(c.share), 70*time.Second)
		require.Equal(t, c.judge, v.Rules[engine.Wear].Judge, c.name)
		require.Equal(t, c.wornWarn, v.Alarms[engine.WarnAlarm(engine.Wear)].Active, c.name)
	}
}
