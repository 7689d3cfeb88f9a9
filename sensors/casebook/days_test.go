package casebook_test

import (
	"math/rand/v2"
	"os"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/sensors/plant"
	"headroom/sensors/scenario"
)

// A benign day has no fault, and a hook-up in which the true values keep clear
// of every limit:
//
//   - a tap of 200 to 480 kPa behind 0 to 15 kPa of house pipe, 25 to 75 ft of
//     5/8 or 3/4 in hose: at work at least 100 kPa are left of 200;
//   - water of 5 to 25 C, air of 5 to 33 C, up to 1500 m, told to the daemon;
//   - a line of 117 to 125 V, 12 AWG cord of 25 to 50 ft, or an engine;
//   - a nozzle within 4 percent of its size, valves that leak up to 2 percent;
//   - spurts of 5 s to 4 min, pauses of up to 50 s, some 6 stops and restarts, a
//     purge before each start.
//
// One pause in thirty is a forgotten trigger of 75 to 150 s: bypass.warn is
// right to come, once each, and counts as an annunciation. Anything else that
// is raised, by any rule or sensor, is a false alarm; a forgotten trigger
// without its alarm is a missed one.

// dayLength is the least machine time of a day: a job of eight hours in which
// the machine runs or waits switched on for about two and a half. The last
// stretch of work goes beyond it.
const dayLength = 8000 * time.Second

// day makes one day of benign work.
func day(seed uint64) (s *scenario.Scenario, forgotten int) {
	r := rand.New(rand.NewPCG(seed, 0x0b5e55))
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
	s = &scenario.Scenario{
		Name: sprintf("day %d", seed), Title: "A day", Seed: seed,
		Machine: plant.Typical(), Start: plant.Idle(),
	}
	m := &s.Machine
	m.Supply.StaticGaugePa, m.Supply.HousePipeLossPa = between(200e3, 480e3), between(0, 15e3)
	m.Supply.HoseLengthM, m.Supply.HoseBoreM = between(7.6, 22.9), []float64{0.015875, 0.01905}[r.IntN(2)]
	s.Start.SupplyTempK, s.Start.AmbientK = ice+between(5, 25), ice+between(5, 33)
	s.Start.NozzleScale, s.Start.ValveWear = between(0.96, 1.04), between(0, 0.02)
	altitudeM := between(0, 1500)
	m.AirAbsPa = airAt(altitudeM)
	m.Circuit.LineV = between(117, 125)
	m.Circuit.CordOhm, _ = plant.CordOhm(12, between(7.6, 15.24))
	told := sprintf("[machine]\naltitude = \"%.0f m\"\n", altitudeM)
	if r.IntN(5) == 0 {
		m.Drive.Kind = plant.Engine
		told += "drive = \"engine\"\n"
	}
	s.Config = []byte(told)
	w := worker{s: s, r: r}
	for w.at < dayLength {
		w.job(between)
	}
	s.Duration = w.at + time.Minute
	return s, w.forgotten
}

// worker writes the steps of a day.
type worker struct {
	s         *scenario.Scenario
	r         *rand.Rand
	at        time.Duration
	forgotten int
}

func (w *worker) do(seconds float64, a scenario.Action, amount float64) {
	w.at += time.Duration(seconds*10) * tick
	w.s.Steps = append(w.s.Steps, scenario.Step{At: w.at, Action: a, Amount: amount})
}

// job is one stretch of work from purge to stop.
func (w *worker) job(between func(lo, hi float64) float64) {
	w.do(between(5, 30), scenario.Nozzle, 0)
	w.do(between(1, 5), scenario.Tap, 1)
	w.do(between(1, 5), scenario.Trigger, 1)
	w.do(between(10, 40), scenario.Trigger, 0)
	w.do(between(3, 10), scenario.Nozzle, 1)
	w.do(between(1, 5), scenario.Trigger, 1)
	w.do(between(0.5, 5), scenario.Switch, 1)
	for range 4 + w.r.IntN(12) {
		w.do(between(5, 240), scenario.Trigger, 0)
		if w.r.IntN(30) == 0 {
			w.forgotten++
			w.do(between(75, 150), scenario.Trigger, 1)
			continue
		}
		w.do(between(leastPauseS, 50), scenario.Trigger, 1)
	}
	w.do(between(5, 120), scenario.Switch, 0)
	w.do(between(0.5, 5), scenario.Trigger, 0)
	w.do(between(1, 10), scenario.Tap, 0)
	w.do(between(20, 120), scenario.Trigger, 1)
	w.do(between(1, 5), scenario.Trigger, 0)
}

// leastPauseS is the shortest pause of the trigger, in seconds.
const leastPauseS = 0.5

// live plays a day and returns what came and how long the machine ran.
func live(t testing.TB, s *scenario.Scenario) run {
	m := configOf(t, s)
	e, err := engine.New(m.engine)
	require.NoError(t, err)
	d := newSide(t, s, &m, false)
	st, w := &engine.State{}, newWatch()
	var f frame.Frame
	for now := tick; now <= s.Duration; now += tick {
		d.frame(now, &f)
		w.see(e.Step(st, &f, now))
		w.acknowledge(e, st)
	}
	return w.done(st.Totals())
}

// TestDays: benign work raises nothing that isn't true, and calls no more than
// once in ten minutes. Source of the rate: EEMUA 191 and ANSI/ISA-18.2, one
// alarm in ten minutes as what a person can well manage. The short form plays
// 12 days; HEADROOM_LONG=1 plays 200.
func TestDays(t *testing.T) {
	days := 12
	if testing.Short() {
		days = 4
	}
	if os.Getenv("HEADROOM_LONG") != "" {
		days = 200
	}
	var mu sync.Mutex
	var calls, forgotten uint64
	var minutes float64
	each(days, func(i int) {
		s, left := day(uint64(i + 1))
		r := live(&quiet{}, s)
		came := 0
		for _, h := range r.log {
			if h.Alarm == "bypass.warn" {
				came++
				continue
			}
			t.Errorf("%s: %s came at %s and nothing was wrong", s.Name, h.Alarm, clock(h.At))
		}
		if came != left {
			t.Errorf("%s: the trigger was forgotten %d times and bypass.warn came %d times", s.Name, left, came)
		}
		mu.Lock()
		defer mu.Unlock()
		calls, forgotten = calls+r.annunciated, forgotten+uint64(left)
		minutes += s.Duration.Minutes()
	})
	rate := float64(calls) / (minutes / 10)
	t.Logf("%d days, %.0f h: %d annunciations, %.3f in ten minutes; the trigger was forgotten %d times", days, minutes/60, calls, rate, forgotten)
	require.LessOrEqual(t, rate, 1.0, "annunciations in ten minutes of a normal day")
	require.Equal(t, forgotten, calls, "each is called once")
}
