package words_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/words"
)

// An alarm that doesn't say what is wrong, what comes of it and what to do is
// noise (ANSI/ISA-18.2 asks for cause, consequence and response of each).
func TestEveryAlarmIsComplete(t *testing.T) {
	seen := map[string]engine.AlarmID{}
	for id := range engine.AlarmID(engine.NumAlarms) {
		x := words.Alarm(id)
		require.NotEmpty(t, x.Title, "%d", id)
		require.NotEmpty(t, x.Cause, x.Title)
		require.NotEmpty(t, x.Consequence, x.Title)
		require.NotEmpty(t, x.Action, x.Title)
		require.LessOrEqual(t, len(x.Title), 64, "a title must fit a phone: %s", x.Title)
		other, twice := seen[x.Title]
		require.False(t, twice, "alarms %d and %d share the title %q", id, other, x.Title)
		seen[x.Title] = id
	}
	for r := range engine.NumRules {
		require.NotEmpty(t, words.Rule(r))
	}
}

func TestGrades(t *testing.T) {
	w, ok := words.Grade(engine.Cavitation, 4)
	require.True(t, ok)
	require.Equal(t, "severe", w)
	_, ok = words.Grade(engine.Cavitation, 7)
	require.False(t, ok)
	_, ok = words.Grade(engine.InletLow, 2)
	require.False(t, ok)
}

func TestEveryCauseSaysWhatToDo(t *testing.T) {
	seen := map[string]bool{}
	for c := engine.CauseUndetermined; c < engine.NumCauses; c++ {
		what, do := words.Cause(c)
		require.False(t, seen[what], "each cause is told by its own words")
		seen[what] = true
		require.NotEmpty(t, what, c.String())
		require.NotEmpty(t, do, c.String())
	}
	what, _ := words.Cause(engine.CauseNone)
	require.Empty(t, what)
}

// Who reads that a rule can't judge must learn which reading it is and what to
// check.
func TestOutsideNamesReadingAndMend(t *testing.T) {
	for c := range frame.NumChannels + 1 {
		require.Contains(t, words.Outside(c), "check", c.String())
	}
	for _, c := range []frame.Channel{
		frame.InletPressure, frame.WaterTemp, frame.Flow, frame.MotorCurrent, frame.OutletPressure, frame.ShaftSpeed, frame.AirPressure,
	} {
		require.Contains(t, words.Outside(c), strings.ToLower(c.Label()))
	}
}

// The sensor's alarm stands for every status that isn't good, not for a wild
// value alone.
func TestASensorsAlarmFitsWhatRaisesIt(t *testing.T) {
	cause := words.Alarm(engine.SensorAlarm(frame.Flow)).Cause
	for _, word := range []string{"old", "stuck", "range", "contradicted", "failed", "wire"} {
		require.Contains(t, cause, word)
	}
}
