package bench_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/bench"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// inletBench feeds an inlet step readings that stand still but for noise.
type inletBench struct {
	s   *bench.Session
	rng *rand.Rand
	now time.Duration
}

// hold keeps the readings for a while and tells whether a point was taken.
func (b *inletBench) hold(inletPa, flowM3s float64, long time.Duration) bool {
	p := b.s.Record().Pump
	for end := b.now + long; b.now < end; {
		b.now += 100 * time.Millisecond
		var f frame.Frame
		f.Set(frame.InletPressure, inletPa+500*b.rng.NormFloat64())
		f.Set(frame.Flow, flowM3s*(1+0.0005*b.rng.NormFloat64()))
		f.Set(frame.OutletPressure, 0.75*p.PressurePa+4e3*b.rng.NormFloat64())
		f.Set(frame.ShaftSpeed, p.SpeedHz)
		f.Set(frame.WaterTemp, 285+0.03*b.rng.NormFloat64())
		f.Set(frame.MotorCurrent, p.MotorA+0.03*b.rng.NormFloat64())
		if b.s.Feed(bench.Input{T: b.now, Wall: began.Add(b.now), Samples: f.Samples}) {
			return true
		}
	}
	return false
}

// The valve counts as moved by what it does: the pressure falls as long as the
// water fills the cylinders, the flow once vapour does.
func TestInletValveMoved(t *testing.T) {
	const inletPa = -70e3
	for _, c := range []struct {
		name              string
		byPa, flowFallsBy float64
		taken             bool
		says              string
	}{
		{"not touched", 0, 0, false, "too near the last point"},
		{"a breath of a turn", 0.7e3, 0.001, false, "wanted 1.500 kPa"},
		{"the pressure falls, the flow stands", 3e3, 0, true, ""},
		{"the flow falls, the pressure stands: choked", 0.3e3, 0.008, true, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			setup := setupOf(t, bench.Choice{LoadShares: []float64{0.5, 0.75, 1}, Inlet: true, WindowS: 10})
			s, err := bench.NewSession(setup)
			require.NoError(t, err)
			for step, _ := s.Step(); step.Kind != bench.Inlet; step, _ = s.Step() {
				require.NoError(t, s.Skip("not what is tried here", began))
			}
			b := &inletBench{s: s, rng: rand.New(rand.NewPCG(1, 2))}
			full := s.Record().Pump.FlowM3s
			require.True(t, b.hold(inletPa, full, time.Minute), "the first position")
			require.Equal(t, c.taken, b.hold(inletPa-c.byPa, full*(1-c.flowFallsBy), 5*time.Minute), s.View(units.SI).Waiting)
			require.Contains(t, s.View(units.SI).Waiting, c.says)
		})
	}
}
