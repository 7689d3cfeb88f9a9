package dashboard

import (
	"context"
	"errors"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/config"
	"headroom/daemon/snapshot"
	"headroom/rules/alarm"
	"headroom/rules/circuit/breaker"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/suction"
	"headroom/rules/units"
)

// liveMachine is an invented machine behind the real engine, for tests of what
// people do to alarms.
type liveMachine struct {
	mu    sync.Mutex
	e     *engine.Engine
	st    engine.State
	f     frame.Frame
	now   time.Duration
	store *snapshot.Store
	broke error
	// noise has the readings scatter as those of real sensors do; nil for none.
	noise *rand.Rand
}

const liveTick = 100 * time.Millisecond

func liveConfig() engine.Config {
	cfg := engine.Config{
		MaxGap: 3 * time.Second, SensorOn: time.Second, SensorOff: time.Second,
		States: machine.Config{StartTime: 2 * time.Second, StopTime: 2 * time.Second, BypassAfter: time.Second},
		Machine: engine.Machine{
			DisplacementM3: 4.64e-6, RatedFlowM3s: 7.6e-3 / 60, RatedSpeedHz: 28.75, VolumetricEff: 0.95, RatedOutletPa: 9e6,
			CircuitA: 20, AssumedNPSHRM: 2.5, RunCurrentA: 4, RunSpeedHz: 7, FlowOnM3s: 1e-5, FedInletPa: 10e3,
		},
		Plant: engine.Plant{Breaker: breaker.Config{Standard: breaker.UL489, RatingA: 20}, RatedA: 15, NoLoadA: 6, RatedV: 120,
			NozzleFactor: 7.6e-3 / 60 / 3000, PumpKind: suction.Triplex, LiquidK: 1.4},
	}
	for _, c := range []frame.Channel{frame.InletPressure, frame.Flow, frame.MotorCurrent, frame.OutletPressure, frame.ShaftSpeed, frame.Trigger} {
		lo, hi := c.Believable()
		cfg.Signals[c] = engine.Signal{Fitted: true, Min: lo, Max: hi}
	}
	two := func(warn, act, span, deadband float64) engine.Limit {
		return engine.Limit{On: true, Warn: warn, Act: act, HasWarn: true, HasAct: true, WarnLevel: engine.Warning, ActLevel: engine.Act,
			Span: span, Deadband: deadband, WarnOn: 200 * time.Millisecond, ActOn: 200 * time.Millisecond, Off: 200 * time.Millisecond}
	}
	cfg.Rules[engine.InletLow] = two(70e3, 20e3, 200e3, 5e3)
	cfg.Rules[engine.FlowShort] = two(0.9, 0.75, 0.25, 0.03)
	cfg.Rules[engine.CircuitLoad] = two(16, 20, 10, 0.3)
	cfg.Rules[engine.BreakerTime] = two(300, 60, 600, 5)
	return cfg
}

func newLiveMachine(t testing.TB, cfg engine.Config) *liveMachine {
	t.Helper()
	e, err := engine.New(cfg)
	require.NoError(t, err)
	m := &liveMachine{e: e, store: snapshot.NewStore()}
	m.set(frame.InletPressure, 250e3)
	m.set(frame.Flow, 7.6e-3/60)
	m.set(frame.MotorCurrent, 14)
	m.set(frame.OutletPressure, 9e6)
	m.set(frame.ShaftSpeed, 28.75)
	m.set(frame.Trigger, 1)
	m.feed(6 * time.Second)
	return m
}

// demoMachine is the machine of the demo at work, with every channel that it
// has and readings that are never twice the same.
func demoMachine(t testing.TB) *liveMachine {
	t.Helper()
	e, err := engine.New(config.Default().Engine)
	require.NoError(t, err)
	m := &liveMachine{e: e, store: snapshot.NewStore(), noise: rand.New(rand.NewPCG(1, 2))}
	for c, v := range map[frame.Channel]float64{
		frame.InletPressure: 250e3, frame.WaterTemp: 288.15, frame.Flow: 7.6e-3 / 60, frame.MotorCurrent: 12.5, frame.OutletPressure: 9e6,
		frame.ShaftSpeed: 28.75, frame.SupplyVoltage: 118, frame.Vibration: 4, frame.InletPulsation: 5e3, frame.AmbientTemp: 293.15, frame.AirPressure: 101e3,
		frame.Running: 1, frame.Trigger: 1, frame.PowerPresent: 1,
	} {
		m.set(c, v)
	}
	m.feed(30 * time.Second)
	return m
}

func (m *liveMachine) set(c frame.Channel, v float64) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.f.Set(c, v)
}

// feed makes time pass for the machine, at once for everybody else.
func (m *liveMachine) feed(d time.Duration) {
	for ; d > 0; d -= liveTick {
		m.tick(noon)
	}
}

func (m *liveMachine) tick(wall time.Time) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.now += liveTick
	f := m.f
	if m.noise != nil {
		for c := range frame.NumChannels {
			if s := &f.Samples[c]; c.Quantity() == units.Temperature {
				s.Value += 0.05 * m.noise.NormFloat64()
			} else if !c.Digital() {
				s.Value *= 1 + 0.004*m.noise.NormFloat64()
			}
		}
	}
	v := m.e.Step(&m.st, &f, m.now)
	m.store.Publish(&snapshot.Snapshot{Seq: uint64(m.now / liveTick), Mono: m.now, Wall: wall, Verdicts: *v, Totals: m.st.Totals()})
}

// run ticks in real time until the test ends.
func (m *liveMachine) run(t testing.TB) {
	stop := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		tick := time.NewTicker(liveTick)
		defer tick.Stop()
		for {
			select {
			case <-stop:
				return
			case <-tick.C:
				m.tick(time.Now())
			}
		}
	})
	t.Cleanup(func() { close(stop); wg.Wait() })
}

// act is what the daemon supplies as Options.Acts.
func (m *liveMachine) act(_ context.Context, a ActRequest) (engine.Did, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.broke != nil {
		return engine.Did{}, m.broke
	}
	did, ok := m.e.Do(&m.st, a.Alarm, a.Act, m.now, a.Shelf)
	if !ok {
		return engine.Did{}, ErrNotNow
	}
	m.store.NoteAct(snapshot.ActEvent{Wall: noon, Who: a.Who, Did: did})
	// Published as the next tick would, since no time passes in most tests.
	snap := *m.store.Latest()
	snap.Seq++
	st := snap.Verdicts.Alarms[a.Alarm]
	st.Phase = did.Phase
	snap.Verdicts.Alarms[a.Alarm] = st
	m.store.Publish(&snap)
	return did, nil
}

func (m *liveMachine) options() Options {
	opt := testOptions()
	opt.Store, opt.Acts = m.store, m.act
	return opt
}

func (m *liveMachine) phase(a engine.AlarmID) alarm.Phase {
	return m.store.Latest().Verdicts.Alarms[a].Phase
}

var errBroke = errors.New("the engine is being replaced")
