package engine_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

// cold is the machine standing, with water and air in degrees Celsius; NaN for
// a sensor that has failed.
func cold(waterC, airC float64) frame.Frame {
	f := stopped()
	for _, c := range []struct {
		ch frame.Channel
		c  float64
	}{{frame.WaterTemp, waterC}, {frame.AmbientTemp, airC}} {
		f.Set(c.ch, c.c+273.15)
		if math.IsNaN(c.c) {
			f.Samples[c.ch] = frame.Sample{Status: frame.Failed}
		}
	}
	return f
}

// Source of the times: Newton's law, 3600 s ln((w - a)/(0 - a)); of the classes:
// 4 °C to watch and 2 °C to act, common practice, no source.
func TestFrost(t *testing.T) {
	none := math.NaN()
	for _, c := range []struct {
		name         string
		water, air   float64
		judge        engine.Judge
		act, warn    bool
		valueS       float64
		timed, fixed bool
	}{
		{"cold water, air just above", 1.8, 0.1, engine.Watching, true, true, 1800, false, false},
		{"cold water, air just below", 1.8, -0.05, engine.Watching, true, true, 1800, false, false},
		{"cold water, cold air", 1.8, -10, engine.Watching, true, true, 3600 * math.Log(11.8/10), true, false},
		{"cool water, air just below", 3.8, -0.1, engine.Watching, false, true, 7200, false, false},
		{"warm water, cold air", 15, -20, engine.Watching, true, true, 3600 * math.Log(35.0/20), true, false},
		{"summer", 15, 20, engine.Watching, false, false, 86400, false, false},
		{"no air reading, warm water", 8, none, engine.NoReading, false, false, 0, false, false},
		{"no air reading, cool water", 3, none, engine.Watching, false, true, 7200, false, false},
		{"no air reading, cold water", 1, none, engine.Watching, true, true, 1800, false, false},
		{"no air reading, ice", -0.5, none, engine.Watching, true, true, 0, false, false},
		{"no water reading, frost", none, -1, engine.Watching, true, true, 1800, false, false},
		{"no air sensor, warm water", 8, none, engine.NotFitted, false, false, 0, false, true},
	} {
		cfg := fixture()
		cfg.Rules[engine.Frost].Act = 3000 // so that 2015 s of warm water in cold air are beyond it
		if c.valueS == 1800 {
			c.valueS = 3000
		}
		if c.fixed {
			cfg.Signals[frame.AmbientTemp].Fitted = false
		}
		r := newRig(t, cfg)
		v := r.feed(cold(c.water, c.air), 15*time.Second)
		f := &v.Rules[engine.Frost]
		require.Equal(t, c.judge, f.Judge, c.name)
		require.InDelta(t, c.valueS, f.Value, 1, c.name)
		require.Equal(t, c.act, v.Alarms[engine.ActAlarm(engine.Frost)].Active, c.name)
		require.Equal(t, c.warn, v.Alarms[engine.WarnAlarm(engine.Frost)].Active, c.name)
		require.Equal(t, c.timed, f.Sure != 0, "%s: a class is no time", c.name)
	}
}

// An alarm that stands isn't cleared by an air thermometer that fails.
func TestFrostAlarmOutlivesItsThermometer(t *testing.T) {
	r := newRig(t, fixture())
	v := r.feed(cold(6, -15), 15*time.Second)
	require.True(t, v.Alarms[engine.ActAlarm(engine.Frost)].Active, "3600 s ln(21/15) = 1211 s")
	v = r.feed(cold(6, math.NaN()), 60*time.Second)
	require.Equal(t, engine.NoReading, v.Rules[engine.Frost].Judge)
	require.True(t, v.Alarms[engine.ActAlarm(engine.Frost)].Active)
}

// Colder never looks better.
func TestFrostIsMonotonic(t *testing.T) {
	e, err := engine.New(fixture())
	require.NoError(t, err)
	value := func(w, a float64) float64 {
		var s engine.State
		f := cold(w, a)
		var v *engine.Verdicts
		for i := range 30 {
			v = e.Step(&s, &f, time.Duration(i+1)*tick)
		}
		require.Equal(t, engine.Watching, v.Rules[engine.Frost].Judge)
		return v.Rules[engine.Frost].Value
	}
	rapid.Check(t, func(t *rapid.T) {
		w, a := rapid.Float64Range(-5, 20).Draw(t, "water"), rapid.Float64Range(-30, 20).Draw(t, "air")
		dw, da := rapid.Float64Range(0, 5).Draw(t, "dw"), rapid.Float64Range(0, 5).Draw(t, "da")
		if value(w-dw, a-da) > value(w, a) {
			t.Fatalf("water %g air %g is better than %g %g", w-dw, a-da, w, a)
		}
	})
}
