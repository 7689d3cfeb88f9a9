package hardware

import (
	"context"
	"log/slog"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/config"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/machine"
	"headroom/sensors/gpiochip/gpiofake"
	"headroom/sensors/outputs"
)

const allOutputs = `
[simulator]
on = false
[[sensors.switch]]
line = "MOTOR"
channel = "running"
[outputs.beacon]
on = true
line = "BEACON"
[outputs.horn]
on = true
line = "HORN"
[outputs.stop]
on = true
confirm = "may stop the machine"
line = "RELAY"
rules = ["no_flow"]
[outputs.reset]
on = true
line = "RESET"
[outputs.hold]
on = true
line = "HOLD"
`

// TestTheDefaultTable: what beacon and horn do, by the config's defaults.
func TestTheDefaultTable(t *testing.T) {
	const running, standing, unknown = machine.Running, machine.Stopped, machine.Unknown
	cfg := config.Default()
	for _, c := range []struct {
		level        engine.Level
		state        machine.State
		calling      int
		stopped      bool
		beacon, horn string
		why          string
	}{
		{engine.Normal, running, 0, false, "off", "off", "nothing to say"},
		{engine.Advice, running, 1, false, "off", "off", "the screen is enough"},
		{engine.Warning, running, 1, false, "slow", "off", "there is time left"},
		{engine.Warning, standing, 1, false, "slow", "off", "it still stands"},
		{engine.Act, running, 1, false, "quick", "quick", "act now"},
		{engine.Act, machine.Bypassing, 1, false, "quick", "quick", "the pump turns"},
		{engine.Act, machine.Starting, 1, false, "quick", "quick", "the pump turns"},
		{engine.Act, unknown, 1, false, "quick", "quick", "unknown is not OK: it may turn"},
		{engine.Act, machine.NumStates, 1, false, "quick", "quick", "a state that it doesn't know may turn"},
		{engine.Act, standing, 1, false, "quick", "off", "nobody must run to a pump that stands"},
		{engine.Act, running, 0, false, "quick", "off", "acknowledged: the horn is silent, the beacon not"},
		{engine.Normal, standing, 0, true, "steady", "off", "stopped, waits for a reset"},
		{engine.Act, standing, 1, true, "quick", "off", "the severity is louder"},
		{engine.Act + 1, running, 1, false, "quick", "quick", "a severity that it doesn't know is the highest"},
	} {
		beacon, _ := outputs.PatternByName(c.beacon)
		horn, _ := outputs.PatternByName(c.horn)
		v := engine.Verdicts{Level: c.level, Machine: c.state, Calling: c.calling}
		if c.level > engine.Normal {
			phase := alarm.Acknowledged
			if c.calling > 0 {
				phase = alarm.Unacknowledged
			}
			v.Alarms[engine.ActAlarm(engine.NoFlow)] = engine.Standing{Active: true, Level: c.level, Phase: phase}
		}
		require.Equal(t, outputs.Signal{Beacon: beacon, Horn: horn}, signal(&cfg.Outputs, &v, c.stopped), c.why)
	}
}

// TestTheHornSaysOnlyWhatNobodyKnows: with an alarm that was acknowledged the
// horn is as loud as what is new, and no louder. Source: common practice, no
// source.
func TestTheHornSaysOnlyWhatNobodyKnows(t *testing.T) {
	const knows, new, over = alarm.Acknowledged, alarm.Unacknowledged, alarm.Returned
	type one struct {
		level  engine.Level
		phase  alarm.Phase
		stands bool
	}
	cfg := config.Default()
	cfg.Outputs.Horn.Turning = [4]string{"off", "steady", "slow", "quick"}
	for _, c := range []struct {
		alarms       []one
		beacon, horn string
		why          string
	}{
		{[]one{{engine.Act, knows, true}, {engine.Advice, new, true}}, "quick", "steady", "an advice is no new act"},
		{[]one{{engine.Act, knows, true}, {engine.Warning, new, true}}, "quick", "slow", "nor is a warning"},
		{[]one{{engine.Act, knows, true}, {engine.Act, new, true}}, "quick", "quick", "a second act is"},
		{[]one{{engine.Act, knows, true}, {engine.Act, over, false}}, "quick", "steady", "what is over is no more than an advice"},
		{[]one{{engine.Warning, new, true}, {engine.Act, alarm.Shelved, true}}, "quick", "slow", "what was put aside is known"},
		{[]one{{engine.Act, knows, true}}, "quick", "off", "all is known"},
	} {
		v := engine.Verdicts{Machine: machine.Running}
		for i, a := range c.alarms {
			v.Alarms[i] = engine.Standing{Active: a.stands, Level: a.level, Phase: a.phase}
			if a.stands {
				v.Level = max(v.Level, a.level)
			}
			if a.phase.Calls() {
				v.Calling++
			}
		}
		beacon, _ := outputs.PatternByName(c.beacon)
		horn, _ := outputs.PatternByName(c.horn)
		require.Equal(t, outputs.Signal{Beacon: beacon, Horn: horn}, signal(&cfg.Outputs, &v, false), c.why)
	}
}

type outputRig struct {
	board *gpiofake.Board
	o     *Outputs
	began time.Time
}

func startOutputs(t *testing.T, text string) *outputRig {
	r := &outputRig{board: gpiofake.New(), began: time.Now()}
	var err error
	r.o, err = Env{Lines: r.board}.Outputs(parse(t, text), slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { r.o.Run(ctx); close(done) }()
	t.Cleanup(func() {
		cancel()
		<-done
		require.False(t, r.level("RELAY"), "safe on the way out")
	})
	return r
}

// tick gives a verdict ten times a second for that long.
func (r *outputRig) tick(v engine.Verdicts, long time.Duration) {
	for range long / (100 * time.Millisecond) {
		r.o.Tick(&v, time.Since(r.began))
		time.Sleep(100 * time.Millisecond)
	}
	synctest.Wait()
}

func (r *outputRig) level(name string) bool {
	w := r.board.Writes(name)
	return len(w) > 0 && w[len(w)-1].Active
}

func (r *outputRig) press(name string) {
	r.board.Set(name, true)
	r.tick(engine.Verdicts{Machine: machine.Running}, 300*time.Millisecond)
	r.board.Set(name, false)
	r.tick(engine.Verdicts{Machine: machine.Running}, 300*time.Millisecond)
}

var fine = engine.Verdicts{Machine: machine.Running}

func starving() engine.Verdicts {
	v := engine.Verdicts{Machine: machine.Running, Level: engine.Act, Calling: 1}
	v.Alarms[engine.ActAlarm(engine.NoFlow)] = engine.Standing{Active: true, Level: engine.Act, Phase: alarm.Unacknowledged}
	return v
}

func TestOnlyAPersonLetsTheMachineRunAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := startOutputs(t, allOutputs)
		r.tick(fine, time.Second)
		require.False(t, r.level("RELAY"), "stopped until a person says so")
		require.True(t, r.level("BEACON"), "and the lamp shows that it waits")
		r.press("RESET")
		require.True(t, r.level("RELAY"))
		require.False(t, r.level("BEACON"))

		other := engine.Verdicts{Machine: machine.Running, Level: engine.Act, Calling: 1}
		other.Alarms[engine.ActAlarm(engine.WaterHot)] = engine.Standing{Active: true, Level: engine.Act, Phase: alarm.Unacknowledged}
		r.tick(other, time.Second)
		require.True(t, r.level("RELAY"), "a rule that isn't named stops nothing")

		r.tick(starving(), time.Second)
		require.False(t, r.level("RELAY"))
		require.Greater(t, len(r.board.Writes("HORN")), 2, "the horn sounds")
		r.tick(fine, 5*time.Second)
		require.False(t, r.level("RELAY"), "a limit that came back starts nothing")
		r.press("RESET")
		require.True(t, r.level("RELAY"))
	})
}

func TestHoldKeepsItRunningForAWhile(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := startOutputs(t, allOutputs)
		r.tick(fine, time.Second)
		r.press("RESET")
		r.board.Set("HOLD", true)
		r.tick(fine, 200*time.Millisecond)
		r.tick(starving(), 9*time.Second)
		require.True(t, r.level("RELAY"))
		r.tick(starving(), 2*time.Second)
		require.False(t, r.level("RELAY"), "ten seconds are over")
	})
}

// A reset button that hangs, with a chip that comes and goes, is no person.
func TestAButtonThatHangsResetsNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := startOutputs(t, allOutputs)
		r.board.Set("RESET", true)
		r.tick(fine, time.Second)
		require.False(t, r.level("RELAY"))
		r.board.Unplug(true)
		r.tick(fine, time.Second)
		r.board.Unplug(false)
		r.tick(fine, 20*time.Second)
		require.False(t, r.level("RELAY"))
		r.board.Set("RESET", false)
		r.tick(fine, time.Second)
		require.False(t, r.level("RELAY"), "letting go resets nothing")
		r.press("RESET")
		require.True(t, r.level("RELAY"))
	})
}

func TestAStalledTickStopsAndWaits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := startOutputs(t, allOutputs)
		r.tick(fine, time.Second)
		r.press("RESET")
		time.Sleep(3 * time.Second)
		synctest.Wait()
		require.False(t, r.level("RELAY"))
		_, _, _, dropped := r.o.State()
		require.True(t, dropped)
		r.tick(fine, 5*time.Second)
		require.False(t, r.level("RELAY"))
		r.press("RESET")
		require.True(t, r.level("RELAY"))
	})
}

func TestOutputsThatAreOffAreNotThere(t *testing.T) {
	o, err := NewOutputs(config.Default(), nil)
	require.NoError(t, err)
	require.Nil(t, o)

	synctest.Test(t, func(t *testing.T) {
		r := startOutputs(t, "[simulator]\non = false\n[[sensors.switch]]\nline = \"MOTOR\"\nchannel = \"running\"\n[outputs.beacon]\non = true\nline = \"BEACON\"\n")
		r.tick(starving(), time.Second)
		require.Greater(t, len(r.board.Writes("BEACON")), 2)
		require.Empty(t, r.board.Writes("RELAY"))
		require.Empty(t, r.board.Writes("HORN"))
	})
}

func TestRunAtStart(t *testing.T) {
	cfg := parse(t, allOutputs)
	cfg.Outputs.Stop.RunAtStart = true
	cfg.Outputs.Stop.EnergisedStops = true
	synctest.Test(t, func(t *testing.T) {
		board := gpiofake.New()
		o, err := Env{Lines: board}.Outputs(cfg, slog.New(slog.DiscardHandler))
		require.NoError(t, err)
		r := &outputRig{board: board, o: o, began: time.Now()}
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan struct{})
		go func() { o.Run(ctx); close(done) }()
		r.tick(fine, 500*time.Millisecond)
		require.False(t, r.level("RELAY"), "runs, with the polarity turned round")
		r.tick(starving(), 500*time.Millisecond)
		require.True(t, r.level("RELAY"))
		cancel()
		<-done
	})
}
