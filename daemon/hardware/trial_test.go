package hardware

import (
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/machine"
)

var standing = engine.Verdicts{Machine: machine.Stopped}

// hold drives an output, whoever notes it.
func hold(o *Outputs, name, press string) error {
	_, err := o.HoldOutput(name, press)
	return err
}

func TestTrialDrivesWhileHeldAndLetsGoByItself(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := startOutputs(t, allOutputs)
		o := r.o
		require.ErrorContains(t, hold(o, "horn", ""), "nothing has been read")
		r.tick(standing, 300*time.Millisecond)
		require.ErrorContains(t, hold(o, "siren", ""), "no output")
		require.False(t, r.level("HORN"))
		for range 5 {
			require.NoError(t, hold(o, "horn", ""))
			r.tick(standing, 400*time.Millisecond)
			require.True(t, r.level("HORN"))
		}
		require.True(t, o.TestOutputs()[1].Energised)
		require.True(t, o.TestOutputs()[1].Held)
		o.ReleaseOutput("horn", "")
		r.tick(standing, 300*time.Millisecond)
		require.False(t, r.level("HORN"), "let go")
		require.NoError(t, hold(o, "horn", ""))
		r.tick(standing, 1500*time.Millisecond)
		require.False(t, r.level("HORN"), "a phone that goes dark leaves no horn on")
		require.False(t, o.TestOutputs()[1].Held)
	})
}

func TestTrialIsRefusedWhileTheMachineRuns(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := startOutputs(t, allOutputs)
		for _, v := range []engine.Verdicts{fine, {Machine: machine.Unknown}, {Machine: machine.Starting}} {
			r.tick(v, 300*time.Millisecond)
			require.ErrorContains(t, hold(r.o, "beacon", ""), "stop it first", "%v", v.Machine)
		}
		// One that starts meanwhile ends the trial, and its standing down doesn't
		// bring it back.
		r.tick(standing, 200*time.Millisecond)
		require.NoError(t, hold(r.o, "horn", ""))
		r.tick(standing, 200*time.Millisecond)
		require.True(t, r.level("HORN"))
		r.tick(fine, 200*time.Millisecond)
		require.False(t, r.level("HORN"))
		r.tick(standing, 200*time.Millisecond)
		require.False(t, r.level("HORN"))
	})
}

func TestTrialOpensTheStopRelayAndNeverClosesIt(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := startOutputs(t, allOutputs)
		r.tick(standing, 300*time.Millisecond)
		require.NoError(t, hold(r.o, "stop", ""))
		r.tick(standing, 300*time.Millisecond)
		require.False(t, r.level("RELAY"))
		r.o.ReleaseOutput("stop", "")
		require.True(t, r.o.TestOutputs()[2].Waiting)

		// A reset from the page is a press of the button, and no more.
		require.NoError(t, r.o.ResetStop())
		r.tick(standing, 300*time.Millisecond)
		require.True(t, r.level("RELAY"))
		require.False(t, r.o.TestOutputs()[2].Waiting)
		require.NoError(t, hold(r.o, "stop", ""))
		r.tick(standing, 300*time.Millisecond)
		require.False(t, r.level("RELAY"), "opened by the trial")
		r.tick(standing, 2*time.Second)
		require.False(t, r.level("RELAY"), "and stays open until a reset")

		r.tick(starving(), 300*time.Millisecond)
		require.NoError(t, r.o.ResetStop())
		r.tick(starving(), 300*time.Millisecond)
		require.False(t, r.level("RELAY"), "no reset while the reason stands")
		r.tick(fine, time.Second)
		require.False(t, r.level("RELAY"), "and a refused one isn't kept for later")
	})
}

// On a slow link a "hold" may come after the "release" of its press.
func TestTrialIgnoresAHoldAfterItsRelease(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := startOutputs(t, allOutputs)
		o := r.o
		r.tick(standing, 300*time.Millisecond)
		require.NoError(t, hold(o, "horn", "a"))
		r.tick(standing, 300*time.Millisecond)
		require.True(t, r.level("HORN"))
		o.ReleaseOutput("horn", "a")
		require.NoError(t, hold(o, "horn", "a"), "late, and no trouble")
		r.tick(standing, 300*time.Millisecond)
		require.False(t, r.level("HORN"), "let go of is let go of")
		require.NoError(t, hold(o, "horn", "b"))
		r.tick(standing, 300*time.Millisecond)
		require.True(t, r.level("HORN"), "the next press is another one")
		require.NoError(t, hold(o, "beacon", "a"))
		r.tick(standing, 300*time.Millisecond)
		require.True(t, r.level("BEACON"), "and so is that of another output")

		// Every word of a press may come after its release.
		o.ReleaseOutput("stop", "c")
		require.NoError(t, o.ResetStop())
		r.tick(standing, 300*time.Millisecond)
		require.True(t, r.level("RELAY"))
		require.NoError(t, hold(o, "stop", "c"))
		r.tick(standing, 300*time.Millisecond)
		require.True(t, r.level("RELAY"), "a late word doesn't open it after its reset")
		require.ErrorContains(t, hold(o, "stop", strings.Repeat("x", 65)), "more than 64")
		for i := range 100 {
			o.ReleaseOutput("horn", strconv.Itoa(i))
		}
		require.NoError(t, hold(o, "horn", "99"))
		r.tick(standing, 2*time.Second)
		require.NoError(t, hold(o, "horn", "99"))
		r.tick(standing, 300*time.Millisecond)
		require.False(t, r.level("HORN"), "the newest are remembered, however many")
	})
}

// Whoever reads the record later must tell a trial from a real stop.
func TestTrialOfTheStopIsToldAsATrial(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := startOutputs(t, allOutputs)
		var told []string
		r.o.NoteTo(func(what string) { told = append(told, what) })
		reset := func() {
			require.NoError(t, r.o.ResetStop())
			r.tick(standing, 300*time.Millisecond)
			require.Equal(t, "the machine may run", told[len(told)-1])
			told = nil
		}
		r.tick(standing, 300*time.Millisecond)
		reset()
		for i := range 3 {
			began, err := r.o.HoldOutput("stop", "a")
			require.NoError(t, err)
			require.Equal(t, i == 0, began, "one press is noted once")
			r.tick(standing, 300*time.Millisecond)
		}
		r.o.ReleaseOutput("stop", "a")
		require.Equal(t, []string{"the stop relay was opened as a trial, from a page"}, told)
		began, err := r.o.HoldOutput("stop", "")
		require.NoError(t, err)
		require.True(t, began, "without a script each press is one")
		r.o.ReleaseOutput("stop", "")

		reset()
		r.tick(starving(), 300*time.Millisecond)
		require.Equal(t, []string{"the stop relay opened"}, told, "a real one is none")
		r.tick(standing, 300*time.Millisecond)
		reset()
		require.NoError(t, hold(r.o, "stop", "b"))
		both := starving()
		both.Machine = machine.Stopped
		r.tick(both, 300*time.Millisecond)
		require.Equal(t, []string{"the stop relay opened"}, told, "nor is one with a reason of its own")
	})
}
