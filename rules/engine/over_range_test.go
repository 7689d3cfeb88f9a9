package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

// overRange is a motor's current beyond its clamp's range: at least so much.
func overRange(f frame.Frame, leastA float64) frame.Frame {
	f.Samples[frame.MotorCurrent] = frame.Sample{Value: leastA, Status: frame.OutOfBand}
	return f
}

// held is the machine switched on with a shaft that doesn't turn.
func held() frame.Frame {
	f := stopped()
	f.Set(frame.Running, 1)
	f.Set(frame.Trigger, 1)
	return f
}

// A rotor that stands draws about six times the rated current, three times what
// a 30 A clamp can read (NEMA MG 1 code letters, from memory): the rules made
// for it must speak, and the sensor's alarm stands beside.
func TestLockedRotorAboveTheClampsRange(t *testing.T) {
	for _, c := range []struct {
		name  string
		unfit []frame.Channel
	}{
		{"every sensor", nil},
		{"current alone tells", []frame.Channel{frame.ShaftSpeed, frame.OutletPressure, frame.Running}},
	} {
		cfg := fixture()
		for _, ch := range c.unfit {
			cfg.Signals[ch].Fitted = false
		}
		r := newRig(t, cfg)
		r.feed(stopped(), 3*time.Second)
		v := r.feed(overRange(held(), 42), 8*time.Second)
		for _, rule := range []engine.RuleID{engine.StartJam, engine.CircuitLoad, engine.BreakerTime} {
			require.Equal(t, engine.Watching, v.Rules[rule].Judge, "%s: %s", c.name, rule)
			require.True(t, v.Alarms[engine.ActAlarm(rule)].Active, "%s: %s", c.name, rule)
			require.Equal(t, engine.TermCurrentAtLeast, termOf(&v.Rules[rule]), "%s: %s", c.name, rule)
		}
		require.True(t, v.Alarms[engine.SensorAlarm(frame.MotorCurrent)].Active, c.name)
		require.Equal(t, engine.Act, v.Level, c.name)
		require.Equal(t, frame.OutOfBand, v.Samples[frame.MotorCurrent].Status, c.name)
	}
}

func termOf(v *engine.Verdict) engine.Term {
	for _, u := range v.Used() {
		if u.Term == engine.TermCurrentAtLeast || u.Term == engine.TermCurrent {
			return u.Term
		}
	}
	return engine.TermInlet
}

// A start's inrush beyond the clamp is over in a second and no matter.
func TestInrushAboveTheClampsRangeIsAStart(t *testing.T) {
	cfg := fixture()
	cfg.Signals[frame.ShaftSpeed].Fitted = false
	cfg.Signals[frame.OutletPressure].Fitted = false
	r := newRig(t, cfg)
	r.feed(stopped(), 3*time.Second)
	r.feed(overRange(held(), 42), 900*time.Millisecond)
	r.feed(healthy(), 20*time.Second)
	for _, tr := range r.log {
		c, isSensor := tr.Alarm.Channel()
		require.True(t, isSensor && c == frame.MotorCurrent, "%s at %s", tr.Alarm, tr.T)
	}
}

// What a bound doesn't reach isn't all right: the rule can't judge.
func TestABoundBelowTheLimitIsNoJudgement(t *testing.T) {
	for _, c := range []struct {
		name   string
		leastA float64
		rule   engine.RuleID
		want   engine.Judge
	}{
		{"a 10 A clamp on a 20 A circuit", 10, engine.CircuitLoad, engine.NoReading},
		{"between the limits", 18, engine.CircuitLoad, engine.Watching},
		{"at the breaker's rating", 20, engine.BreakerTime, engine.NoReading},
		{"running, over the range, below a jam's level", 30, engine.StartJam, engine.NoReading},
		{"running, beyond a jam's level of 45 A", 50, engine.StartJam, engine.Watching},
		{"the motor is warm and may be warmer", 18, engine.MotorHeat, engine.NoReading},
		{"no bound", 0, engine.CircuitLoad, engine.NoReading},
		{"wrong scale, beyond belief", 5000, engine.CircuitLoad, engine.NoReading},
		{"negative", -3, engine.CircuitLoad, engine.NoReading},
	} {
		r := newRig(t, fixture())
		r.running()
		v := r.feed(overRange(healthy(), c.leastA), time.Second)
		require.Equal(t, c.want, v.Rules[c.rule].Judge, c.name)
		require.Equal(t, frame.OutOfBand, v.Samples[frame.MotorCurrent].Status, c.name)
	}
}

// A good reading beyond the band that the config gives the sensor bounds with
// the band's end.
func TestBeyondTheConfiguredBand(t *testing.T) {
	cfg := fixture()
	cfg.Signals[frame.MotorCurrent].Max = 40
	r := newRig(t, cfg)
	r.running()
	f := healthy()
	f.Set(frame.MotorCurrent, 78)
	v := r.feed(f, 5*time.Second)
	require.InDelta(t, 40, v.Rules[engine.CircuitLoad].Value, 1e-9)
	require.True(t, v.Alarms[engine.ActAlarm(engine.CircuitLoad)].Active)
}

// The models go on with the bound as the least.
func TestTheBreakerHeatsOnABound(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	early := r.feed(overRange(healthy(), 30), time.Second).Rules[engine.BreakerTime].Value
	late := r.feed(overRange(healthy(), 30), 4*time.Second).Rules[engine.BreakerTime].Value
	require.Less(t, late, early)
}
