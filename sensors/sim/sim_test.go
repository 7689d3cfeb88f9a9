package sim_test

import (
	"context"
	"math"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/plant"
	"headroom/sensors/scenario"
	"headroom/sensors/sim"
)

const job = `
title = "A short job"
invented = true
seed = 11
end = "0:40"
timeline = ["0:02 tap on", "0:03 trigger open", "0:05 switch on", `

// short returns a job that works from 0:05 on, with more in its timeline.
func short(t testing.TB, more string) *scenario.Scenario {
	t.Helper()
	s, err := scenario.Parse("short.toml", []byte(job+more+"]\n"))
	require.NoError(t, err)
	return s
}

func newSim(t testing.TB, o sim.Options) *sim.Sim {
	t.Helper()
	s, err := sim.New(o)
	require.NoError(t, err)
	return s
}

// readings advances and returns all that was posted, by channel.
func readings(s *sim.Sim, to time.Duration) map[frame.Channel][]sensors.Reading {
	out := map[frame.Channel][]sensors.Reading{}
	s.Advance(to, func(r sensors.Reading) { out[r.Channel] = append(out[r.Channel], r) })
	return out
}

func TestSameSeedSameReadings(t *testing.T) {
	sc := short(t, "")
	a := readings(newSim(t, sim.Options{Scenario: sc}), 20*time.Second)
	b := readings(newSim(t, sim.Options{Scenario: sc}), 20*time.Second)
	require.Equal(t, a, b)
	pieces := newSim(t, sim.Options{Scenario: sc})
	c := map[frame.Channel][]sensors.Reading{}
	for at := time.Duration(0); at <= 20*time.Second; at += 70 * time.Millisecond {
		pieces.Advance(at, func(r sensors.Reading) { c[r.Channel] = append(c[r.Channel], r) })
	}
	pieces.Advance(20*time.Second, func(r sensors.Reading) { c[r.Channel] = append(c[r.Channel], r) })
	require.Equal(t, a, c, "the caller's pace changed the readings")
	alone := readings(newSim(t, sim.Options{Scenario: sc, Channels: []frame.Channel{frame.MotorCurrent}}), 20*time.Second)
	require.Equal(t, a[frame.MotorCurrent], alone[frame.MotorCurrent], "another sensor changed this one's noise")
	other := *sc
	other.Seed++
	d := readings(newSim(t, sim.Options{Scenario: &other}), 20*time.Second)
	require.NotEqual(t, a[frame.InletPressure], d[frame.InletPressure])
}

func TestDefaultChannels(t *testing.T) {
	sc := short(t, "")
	require.Len(t, sim.DefaultChannels(sc), 13)
	require.NotContains(t, sim.DefaultChannels(sc), frame.TankLevel)
	sc.Machine.Supply.TankM3, sc.Machine.Supply.TankDepthM = 0.1, 0.5
	require.Contains(t, sim.DefaultChannels(sc), frame.TankLevel)
	sc.Machine.Drive.Kind = plant.Engine
	require.NotContains(t, sim.DefaultChannels(sc), frame.MotorCurrent)
}

func TestNewRefuses(t *testing.T) {
	_, err := sim.New(sim.Options{})
	require.ErrorContains(t, err, "has no scenario")
	_, err = sim.New(sim.Options{Scenario: short(t, ""), Speed: -1})
	require.ErrorContains(t, err, "times real time")
	_, err = sim.New(sim.Options{Scenario: short(t, ""), Channels: []frame.Channel{frame.NumChannels}})
	require.ErrorContains(t, err, "can't feed")
	bad := *short(t, "")
	bad.Machine.Pump.DisplacementM3 = 0
	_, err = sim.New(sim.Options{Scenario: &bad})
	require.ErrorContains(t, err, "cannot simulate short.toml")
}

// TestEveryChannelReads: at steady work each channel is good, on time, inside
// the band of a working sensor, and near the truth.
func TestEveryChannelReads(t *testing.T) {
	var all []frame.Channel
	for c := range frame.NumChannels {
		all = append(all, c)
	}
	sc := short(t, "")
	sc.Machine.Supply.TankM3, sc.Machine.Supply.TankDepthM, sc.Machine.Supply.TankBaseM = 0.1, 0.5, 20
	s := newSim(t, sim.Options{Scenario: sc, Channels: all})
	got := readings(s, 30*time.Second)
	p := s.State()
	truth := map[frame.Channel]float64{
		frame.InletPressure: p.InletGaugePa, frame.WaterTemp: p.InletK, frame.Flow: p.SupplyM3s,
		frame.MotorCurrent: p.CurrentA, frame.OutletPressure: p.OutletGaugePa, frame.ShaftSpeed: p.SpeedHz,
		frame.SupplyVoltage: p.MotorV, frame.TankLevel: p.TankLevel, frame.AirPressure: 101_325,
		frame.AmbientTemp: 293.15, frame.Running: 1, frame.Trigger: 1, frame.PowerPresent: 1,
	}
	for _, c := range all {
		r := got[c]
		require.NotEmpty(t, r, c)
		last := r[len(r)-1]
		require.Equal(t, frame.Good, last.Sample.Status, c)
		require.Empty(t, last.Note, c)
		require.LessOrEqual(t, 30*time.Second-last.At, 2100*time.Millisecond, c)
		lo, hi := c.Believable()
		require.True(t, last.Sample.Value >= lo && last.Sample.Value <= hi, c)
		if want, ok := truth[c]; ok {
			require.InEpsilon(t, want, last.Sample.Value, 0.03, c)
		}
		for i := 1; i < len(r); i++ {
			require.Greater(t, r[i].At, r[i-1].At, c)
		}
	}
}

// TestThermometer: steps of 1/16 K, and the value of a second ago.
func TestThermometer(t *testing.T) {
	s := newSim(t, sim.Options{Scenario: short(t, "")})
	s.Advance(10*time.Second, func(r sensors.Reading) {
		if r.Channel != frame.WaterTemp {
			return
		}
		require.Equal(t, time.Second, s.Now()-r.At)
		require.Equal(t, math.Trunc(r.Sample.Value*16), r.Sample.Value*16)
	})
}

// TestFlowMeter: pulses that are timed read finely down to the least flow, and
// nothing without flow.
func TestFlowMeter(t *testing.T) {
	s := newSim(t, sim.Options{Scenario: short(t, `"0:20 trigger shut"`)})
	var n, sum, squares float64
	s.Advance(40*time.Second, func(r sensors.Reading) {
		if r.Channel != frame.Flow {
			return
		}
		if at := r.At; at > 12*time.Second && at < 20*time.Second {
			x := r.Sample.Value / s.State().SupplyM3s
			n, sum, squares = n+1, sum+x, squares+x*x
		}
		if at := r.At; at < 2*time.Second || at > 23*time.Second {
			require.Zero(t, r.Sample.Value, "at %v", at)
		}
	})
	require.Greater(t, n, 30.0)
	require.InDelta(t, 1, sum/n, 0.002)
	// 32 pulses a reading, counted without timing, would scatter by 1 percent.
	require.Less(t, math.Sqrt(squares/n-sum/n*sum/n), 0.007)
}

func TestSensorFaults(t *testing.T) {
	s := newSim(t, sim.Options{Scenario: short(t, `
		"0:15 fault sensor_wire_off on inlet_pressure until 0:20",
		"0:20 fault sensor_stuck on motor_current until 0:25",
		"0:25 fault sensor_drift 10 V on supply_voltage",
		"0:30 fault sensor_bus_off",
	`)})
	got := readings(s, 35*time.Second)
	between := func(c frame.Channel, from, to float64) (out []sensors.Reading) {
		for _, r := range got[c] {
			if r.At.Seconds() >= from && r.At.Seconds() < to {
				out = append(out, r)
			}
		}
		require.NotEmpty(t, out)
		return out
	}
	for _, r := range between(frame.InletPressure, 15, 20) {
		require.Equal(t, frame.Failed, r.Sample.Status)
		require.Contains(t, r.Note, "wire off")
	}
	require.Equal(t, frame.Good, between(frame.InletPressure, 20, 21)[0].Sample.Status)
	stuck := between(frame.MotorCurrent, 20, 25)
	for _, r := range stuck {
		require.Equal(t, stuck[0].Sample, r.Sample)
	}
	moving := between(frame.MotorCurrent, 10, 20)
	same := 0
	for i := 1; i < len(moving); i++ {
		if moving[i].Sample == moving[i-1].Sample {
			same++
		}
	}
	require.Less(t, same, len(moving)/4, "a live sensor must not look stuck")
	before, after := between(frame.SupplyVoltage, 20, 25)[0], between(frame.SupplyVoltage, 26, 30)[0]
	require.InDelta(t, 10, after.Sample.Value-before.Sample.Value, 1.5)
	require.Equal(t, frame.Failed, between(frame.Flow, 31, 35)[0].Sample.Status)
	require.Equal(t, frame.Good, between(frame.Trigger, 31, 35)[0].Sample.Status)
}

// TestCavitationIsHeard: vibration and pulsation grow when the pump starves.
func TestCavitationIsHeard(t *testing.T) {
	s := newSim(t, sim.Options{Scenario: short(t, `"0:20 fault kinked_hose 98.7 %"`)})
	got := readings(s, 40*time.Second)
	mean := func(c frame.Channel, from, to float64) float64 {
		n, sum := 0.0, 0.0
		for _, r := range got[c] {
			if at := r.At.Seconds(); at >= from && at < to {
				n, sum = n+1, sum+r.Sample.Value
			}
		}
		return sum / n
	}
	for _, c := range []frame.Channel{frame.Vibration, frame.InletPulsation} {
		require.Greater(t, mean(c, 25, 40), 2*mean(c, 12, 20), c)
	}
}

// TestLoop: the job begins anew; without Loop it stays as it ended.
func TestLoop(t *testing.T) {
	loop := newSim(t, sim.Options{Scenario: short(t, ""), Loop: true})
	got := readings(loop, 78*time.Second)
	r := got[frame.Running]
	on := 0
	for i := 1; i < len(r); i++ {
		if r[i].Sample.Value > r[i-1].Sample.Value {
			on++
		}
		require.Greater(t, r[i].At, r[i-1].At)
	}
	require.Equal(t, 2, on)
	once := newSim(t, sim.Options{Scenario: short(t, "")})
	got = readings(once, 78*time.Second)
	last := got[frame.Running][len(got[frame.Running])-1]
	require.Equal(t, 1.0, last.Sample.Value)
	require.Greater(t, last.At, 77*time.Second)
}

// TestRun: live, the same readings come at the same times as from Advance, and
// the end of the context is no error.
func TestRun(t *testing.T) {
	sc := short(t, "")
	want := readings(newSim(t, sim.Options{Scenario: sc}), 10*time.Second)
	synctest.Test(t, func(t *testing.T) {
		start := time.Now().Add(-time.Hour)
		clock := func() time.Duration { return time.Since(start) }
		ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second+time.Millisecond)
		defer cancel()
		got := map[frame.Channel][]sensors.Reading{}
		err := newSim(t, sim.Options{Scenario: sc}).Run(ctx, clock, func(r sensors.Reading) {
			require.LessOrEqual(t, r.At, clock(), "a measurement in the future")
			r.At -= time.Hour
			got[r.Channel] = append(got[r.Channel], r)
		})
		require.NoError(t, err)
		require.Equal(t, want, got)
	})
}

// TestRunFastAndAfterSleep: ten times as fast, and a pause of the computer is
// not caught up.
func TestRunFastAndAfterSleep(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := time.Now()
		var skipped atomic.Int64
		clock := func() time.Duration { return time.Since(start) + time.Duration(skipped.Load()) }
		ctx, cancel := context.WithTimeout(t.Context(), 2*time.Second+time.Millisecond)
		defer cancel()
		s := newSim(t, sim.Options{Scenario: short(t, ""), Speed: 10})
		time.AfterFunc(time.Second, func() { skipped.Store(int64(24 * time.Hour)) })
		require.NoError(t, s.Run(ctx, clock, func(r sensors.Reading) {
			require.LessOrEqual(t, r.At, clock())
		}))
		require.InDelta(t, 20, s.Now().Seconds(), 0.5)
	})
}

func BenchmarkAdvanceSecond(b *testing.B) {
	s := newSim(b, sim.Options{Scenario: short(b, ""), Loop: true})
	at := time.Duration(0)
	for b.Loop() {
		at += time.Second
		s.Advance(at, func(sensors.Reading) {})
	}
}
