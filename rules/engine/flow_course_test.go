package engine_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

// handWorked is the fixture without a switch at the trigger and without outlet
// pressure: only the flow and the inlet tell what the outlet does.
func handWorked() engine.Config {
	cfg := fixture()
	cfg.Signals[frame.Trigger].Fitted, cfg.Signals[frame.OutletPressure].Fitted = false, false
	cfg.Signals[frame.Flow].SmoothS = 0.5
	cfg.Machine.AssumedNPSHRM = 0 // as most machines
	return cfg
}

// meter is a flow meter with a first-order lag before the engine's own filter.
// Source: any text on signal processing.
type meter struct{ lagS, shown float64 }

func (m *meter) read(trueM3s float64, dt time.Duration) float64 {
	m.shown += (1 - math.Exp(-dt.Seconds()/m.lagS)) * (trueM3s - m.shown)
	return m.shown
}

const fullM3s = 7.6e-3 / 60

// pulls works the trigger for d, in pulls of on in every period, with a frame
// each dt. It returns how often flow_short was judged more than a twentieth
// beyond its limit of 90 %, which the first moment of a closing outlet passes.
func (r *rig) pulls(m *meter, on, period, d, dt time.Duration) (beyond int) {
	for t := time.Duration(0); t < d; t += tick {
		f, flow := healthy(), 0.0
		f.Set(frame.InletPressure, 290e3)
		f.Set(frame.MotorCurrent, 9)
		if t%period < on {
			flow = fullM3s
			f.Set(frame.InletPressure, 250e3)
			f.Set(frame.MotorCurrent, 14)
		}
		f.Set(frame.Flow, m.read(flow, tick))
		r.now += tick
		if t%dt != 0 {
			continue
		}
		v := r.e.Step(&r.s, &f, r.now)
		r.log = append(r.log, v.Transitions()...)
		if s := &v.Rules[engine.FlowShort]; s.Judge == engine.Watching && s.Value < 0.85 {
			beyond++
		}
	}
	return beyond
}

// Work in short pulls is work. The inlet never falls below what it is at full
// flow, so nothing is short of water.
func TestTriggerWorkIsNoShortFlow(t *testing.T) {
	for _, c := range []struct {
		name           string
		on, period, dt time.Duration
		lagS           float64
		source         string
	}{
		{"quick meter", time.Second, 4 * time.Second, tick, 0.1, "pulls of a second, three between: common practice, no source"},
		{"meter of 0.3 s", time.Second, 4 * time.Second, tick, 0.3, "the same"},
		{"slow meter", time.Second, 4 * time.Second, tick, 0.8, "the same"},
		{"slow meter, a frame a second", time.Second, 4 * time.Second, time.Second, 0.5, "the same"},
		{"long pulls, slow meter", 6 * time.Second, 12 * time.Second, tick, 0.8, "six seconds of work: common practice, no source"},
		{"quick hand", 700 * time.Millisecond, 2500 * time.Millisecond, tick, 0.2, "common practice, no source"},
	} {
		r := newRig(t, handWorked())
		r.running()
		beyond := r.pulls(&meter{c.lagS, fullM3s}, c.on, c.period, 5*time.Minute, c.dt)
		for _, tr := range r.log {
			rule, _ := tr.Alarm.Rule()
			require.NotEqual(t, engine.FlowShort, rule, "%s at %s (%s)", c.name, tr.T, c.source)
		}
		require.Zero(t, beyond, "%s: judged beyond the limit, which reviews tell as the least room", c.name)
	}
}

// A supply that fails lowers the inlet, and is told one delay after, moving
// flow or not, also where the gauge is hammered out of its band at times.
func TestStarvationIsToldWhileTheFlowFalls(t *testing.T) {
	for name, flicker := range map[string]int{"steady": 0, "every third reading out of band": 3} {
		r := newRig(t, handWorked())
		r.running()
		m, from := &meter{0.8, fullM3s}, r.now
		for i := 0; i < 100; i++ {
			f := healthy()
			f.Set(frame.InletPressure, -85e3)
			if flicker > 0 && i%flicker == 1 {
				f.Set(frame.InletPressure, -110e3) // below nothing
			}
			f.Set(frame.MotorCurrent, 8)
			f.Set(frame.Flow, m.read(0.2*fullM3s, tick))
			r.feed(f, tick)
		}
		raised := r.raisedAt(engine.WarnAlarm(engine.FlowShort))
		// 90 % after 0.8 s ln(80/70) = 0.1 s and the filter's 0.5 s at most,
		// then the delay of 2 s.
		require.InDelta(t, 2.3, (raised - from).Seconds(), 0.4, name)
	}
}

// What stays short is told all the same, no later than a settling after, and
// so is a flow that never comes to rest.
func TestShortFlowWithoutASwitchAtTheTrigger(t *testing.T) {
	for _, c := range []struct {
		name   string
		flow   func(s float64) float64
		within time.Duration
		source string
	}{
		{"half the nozzle clogged", func(float64) float64 { return 0.55 }, 5 * time.Second,
			"0.6 s to 90 % through lag and filter, 2 s of delay, 2 s to settle"},
		{"unloader stuck open", func(float64) float64 { return 0.35 }, 5 * time.Second, "the same"},
		{"air in the water", func(s float64) float64 { return 0.7 + 0.18*math.Sin(2*math.Pi*s/3) }, 16 * time.Second,
			"a swing of ten seconds, 2 s of delay: common practice, no source"},
	} {
		r := newRig(t, handWorked())
		r.running()
		m, from := &meter{0.8, fullM3s}, r.now
		if c.within > 10*time.Second {
			m.lagS = 0.1
		}
		for i := range 200 {
			f := healthy()
			f.Set(frame.InletPressure, 270e3) // less flow, less loss in the hose
			f.Set(frame.Flow, m.read(fullM3s*c.flow(float64(i)/10), tick))
			r.feed(f, tick)
		}
		raised := r.raisedAt(engine.WarnAlarm(engine.FlowShort))
		require.NotZero(t, raised, c.name)
		require.LessOrEqual(t, raised-from, c.within, "%s: %s", c.name, c.source)
	}
}

// raisedAt is when an alarm was first raised, 0 for never.
func (r *rig) raisedAt(a engine.AlarmID) time.Duration {
	for _, tr := range r.log {
		if tr.Alarm == a && tr.Raised {
			return tr.T
		}
	}
	return 0
}
