package outputs

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/machine"
)

func TestSignals(t *testing.T) {
	const running, stopped, unknown = machine.Running, machine.Stopped, machine.Unknown
	for _, c := range []struct {
		s            Situation
		beacon, horn Pattern
		why          string
	}{
		{Situation{engine.Normal, running, false, false}, silent, silent, "nothing to say"},
		{Situation{engine.Advice, running, false, false}, silent, silent, "the screen is enough"},
		{Situation{engine.Warning, running, false, false}, slow, silent, "there is time left"},
		{Situation{engine.Warning, stopped, false, false}, slow, silent, "it still stands"},
		{Situation{engine.Act, running, false, false}, quick, quick, "act now"},
		{Situation{engine.Act, machine.Bypassing, false, false}, quick, quick, "the pump turns"},
		{Situation{engine.Act, machine.Starting, false, false}, quick, quick, "the pump turns"},
		{Situation{engine.Act, unknown, false, false}, quick, quick, "unknown is not OK: it may turn"},
		{Situation{engine.Act, machine.NumStates, false, false}, quick, quick, "a state this table does not know may turn"},
		{Situation{engine.Act, stopped, false, false}, quick, silent, "nobody must run to a pump that stands"},
		{Situation{engine.Act, running, true, false}, quick, silent, "silenced, not hidden"},
		{Situation{engine.Normal, stopped, false, true}, steady, silent, "stopped, waits for a reset"},
		{Situation{engine.Act, stopped, false, true}, quick, silent, "the severity is louder"},
		{Situation{engine.Act + 1, running, false, false}, quick, quick, "a severity this table does not know is the highest"},
	} {
		require.Equal(t, Signal{c.beacon, c.horn}, Signals(c.s), c.why)
	}
}

func TestPatterns(t *testing.T) {
	require.False(t, silent.Lit(0))
	require.True(t, steady.Lit(time.Hour))
	require.False(t, steady.Lit(-1))
	for ms, want := range map[int]bool{0: true, 249: true, 250: false, 499: false, 500: true, 10_249: true, 10_250: false} {
		require.Equal(t, want, quick.Lit(time.Duration(ms)*time.Millisecond), "%d ms", ms)
	}
}
