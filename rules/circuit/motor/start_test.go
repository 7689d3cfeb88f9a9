package motor_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/circuit/motor"
)

func mustStart(t require.TestingT, c motor.StartConfig) motor.Start {
	m, err := motor.NewStart(c)
	require.NoError(t, err)
	return m
}

// load is a span of invented current of a 15 A motor, switched on or off.
type load struct {
	a, s float64
	on   bool
}

// play feeds spans in ticks of dtS and returns the last state.
func play(t require.TestingT, m motor.Start, dtS float64, spans ...load) motor.StartState {
	var s motor.StartState
	for _, l := range spans {
		for range int(math.Round(l.s / dtS)) {
			var ok bool
			s, ok = m.Step(s, l.a, dtS, l.on)
			require.True(t, ok)
		}
	}
	return s
}

func TestStartTellsInrushFromJam(t *testing.T) {
	m := mustStart(t, motor.DefaultStart(15))
	off := load{0, 1, false}
	for _, c := range []struct {
		name  string
		spans []load
		want  motor.Phase
	}{
		{"off", []load{off}, motor.PhaseStopped},
		{"inrush", []load{off, {95, 0.5, true}}, motor.PhaseStarting},
		{"inrush, decaying", []load{off, {95, 0.3, true}, {60, 0.3, true}, {14, 0.5, true}}, motor.PhaseRunning},
		{"rotor locked", []load{off, {95, 4, true}}, motor.PhaseLockedRotor},
		{"start takes too long", []load{off, {95, 1, true}, {30, 4, true}}, motor.PhaseLongStart},
		{"late but started", []load{off, {95, 1, true}, {30, 4, true}, {14, 1, true}}, motor.PhaseRunning},
		{"switched on, draws nothing", []load{off, {0, 1, true}}, motor.PhaseNoCurrent},
		{"runs, short peak", []load{off, {95, 0.5, true}, {14, 5, true}, {90, 0.3, true}}, motor.PhaseRunning},
		{"runs, then jams", []load{off, {95, 0.5, true}, {14, 5, true}, {90, 0.7, true}}, motor.PhaseJam},
		{"runs, two short peaks", []load{off, {14, 5, true}, {90, 0.3, true}, {14, 1, true}, {90, 0.3, true}}, motor.PhaseRunning},
		{"jam clears", []load{off, {14, 5, true}, {90, 2, true}, {14, 1, true}}, motor.PhaseRunning},
		{"overload is no jam", []load{off, {14, 5, true}, {30, 60, true}}, motor.PhaseRunning},
		{"second start after a jam", []load{off, {90, 9, true}, off, {95, 1, true}}, motor.PhaseStarting},
	} {
		for _, dtS := range []float64{0.01, 0.1} {
			require.Equal(t, c.want.String(), play(t, m, dtS, c.spans...).Phase.String(), "%s, tick %v s", c.name, dtS)
		}
	}
}

func TestStartIsMeasured(t *testing.T) {
	s := play(t, mustStart(t, motor.DefaultStart(15)), 0.05, load{0, 1, false}, load{95, 0.8, true}, load{14, 60, true})
	require.InDelta(t, 0.8, s.LastStartS, 0.05+1e-9)
	require.InDelta(t, 95, s.PeakA, 0)
}

func TestUnknownCurrentIsUnknown(t *testing.T) {
	m := mustStart(t, motor.DefaultStart(15))
	s := play(t, m, 0.1, load{95, 0.5, true}, load{14, 5, true})
	for _, bad := range []float64{math.NaN(), math.Inf(1), -1} {
		n, ok := m.Step(s, bad, 0.1, true)
		require.False(t, ok)
		require.Equal(t, motor.PhaseUnknown, n.Phase)
		n, ok = m.Step(n, 95, 0.1, true)
		require.True(t, ok)
		require.Equal(t, motor.PhaseStarting, n.Phase)
	}
}

// Two rules that no course of the current may break: no locked rotor within
// the start time, and none below the jam level.
func TestStartRules(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cfg := motor.DefaultStart(15)
		m := mustStart(t, cfg)
		var s motor.StartState
		onS := 0.0
		for range rapid.IntRange(1, 80).Draw(t, "ticks") {
			a := rapid.SampledFrom([]float64{0, 10, 20, 30, 50, 95}).Draw(t, "a")
			on := rapid.IntRange(0, 9).Draw(t, "on") > 0
			dtS := rapid.Float64Range(0.01, 1).Draw(t, "dt")
			s, _ = m.Step(s, a, dtS, on)
			onS += dtS
			if !on || a == 0 {
				onS = 0
			}
			switch s.Phase {
			case motor.PhaseLockedRotor:
				require.Greater(t, onS, cfg.StartS)
				require.GreaterOrEqual(t, a, cfg.JamMultiple*cfg.RatedA)
			case motor.PhaseJam:
				require.GreaterOrEqual(t, a, cfg.JamMultiple*cfg.RatedA)
			case motor.PhaseLongStart:
				require.Greater(t, onS, cfg.StartS)
			}
		}
	})
}

func TestStartConfigErrors(t *testing.T) {
	good := motor.DefaultStart(15)
	for part, spoil := range map[string]func(*motor.StartConfig){
		"rated current":      func(c *motor.StartConfig) { c.RatedA = math.NaN() },
		"levels of":          func(c *motor.StartConfig) { c.JamMultiple = 1.4 },
		"longest start":      func(c *motor.StartConfig) { c.StartS = 0 },
		"delay of a jam":     func(c *motor.StartConfig) { c.JamDelayS = -1 },
		"above it, up to 20": func(c *motor.StartConfig) { c.JamMultiple = 21 },
	} {
		c := good
		spoil(&c)
		_, err := motor.NewStart(c)
		require.ErrorContains(t, err, part)
	}
	_, ok := motor.Start{}.Step(motor.StartState{}, 10, 0.1, true)
	require.False(t, ok)
}

func TestNames(t *testing.T) {
	seen := map[string]bool{}
	for p := motor.PhaseUnknown; p <= motor.PhaseJam; p++ {
		seen["phase "+p.String()] = true
	}
	for p := motor.PlateUnknown; p <= motor.PlateTooHigh; p++ {
		seen["plate "+p.String()] = true
	}
	for p := motor.TripUnknown; p <= motor.TripReached; p++ {
		seen["trip "+p.String()] = true
	}
	for c := motor.ClassUnknown; c <= motor.Class30; c++ {
		seen["class "+c.String()] = true
	}
	require.Len(t, seen, 8+4+4+5, "every value has a name of its own")
}

func FuzzStart(f *testing.F) {
	f.Add(uint8(3), 1.0, 95.0, 0.5, 0.1, 95.0, 0.1, true)
	f.Add(uint8(9), math.NaN(), math.Inf(1), -1.0, 1e308, 5e-324, math.NaN(), false)
	f.Fuzz(func(t *testing.T, phase uint8, elapsed, peak, last, above, a, dt float64, on bool) {
		m := mustStart(t, motor.DefaultStart(15))
		s := motor.StartState{Phase: motor.Phase(phase), ElapsedS: elapsed, PeakA: peak, LastStartS: last, AboveS: above}
		n, ok := m.Step(s, a, dt, on)
		if ok == (n.Phase == motor.PhaseUnknown) {
			t.Fatalf("ok %v in %v", ok, n.Phase)
		}
		clean := finite(elapsed) && finite(peak) && finite(last) && finite(above)
		if clean && math.Abs(elapsed) < 1e300 && math.Abs(above) < 1e300 && (!finite(n.ElapsedS) || !finite(n.PeakA) || !finite(n.AboveS)) {
			t.Fatalf("state %+v", n)
		}
	})
}

func BenchmarkStartStep(b *testing.B) {
	b.ReportAllocs()
	m := mustStart(b, motor.DefaultStart(15))
	var s motor.StartState
	for b.Loop() {
		s, _ = m.Step(s, 90, 0.1, true)
	}
}
