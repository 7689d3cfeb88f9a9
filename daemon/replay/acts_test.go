package replay_test

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/replay"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

var hotter = engine.ActAlarm(engine.WaterHot)

// done are acts early in the invented job; one of them means nothing there.
func done() []replay.Act {
	return []replay.Act{
		{T: 2 * time.Second, Alarm: engine.SensorAlarm(frame.WaterTemp), Act: alarm.Shelve, Shelf: 10 * time.Minute, Who: "Ada"},
		{T: 3 * time.Second, Alarm: hotter, Act: alarm.Reset, Who: "Ben"},
		{T: 4 * time.Second, Alarm: engine.ActAlarm(engine.InletLow), Act: alarm.TakeOut},
	}
}

// verdicts replays the job and returns each frame's verdicts as bytes.
func verdicts(t *testing.T, opt replay.Options) (ticks []string, res replay.Result) {
	opt.OnVerdicts = func(v *engine.Verdicts, _ time.Time) { ticks = append(ticks, string(v.Append(nil))) }
	opt.Digest = true
	res, err := replay.Run(t.Context(), invented(t), &job{end: 6000}, opt)
	require.NoError(t, err)
	return ticks, res
}

// Acts come after the frame they are dated to and before the next, as the
// engine itself would have it.
func TestActsAreDoneAtTheirPlace(t *testing.T) {
	e := invented(t)
	var s engine.State
	var want []string
	var f frame.Frame
	src, acts := &job{end: 6000}, done()
	for {
		at, _, err := src.Next(&f)
		if err != nil {
			break
		}
		want = append(want, string(e.Step(&s, &f, at).Append(nil)))
		for len(acts) > 0 && acts[0].T == at {
			e.Do(&s, acts[0].Alarm, acts[0].Act, at, acts[0].Shelf)
			acts = acts[1:]
		}
	}
	require.Empty(t, acts, "every act has its frame")
	var told []string
	got, _ := verdicts(t, replay.Options{Acts: done(), OnAct: func(a replay.Act, ok bool, _ time.Time) {
		told = append(told, a.Act.String()+map[bool]string{true: " taken", false: " means nothing"}[ok])
	}})
	require.Equal(t, want, got)
	require.Equal(t, []string{"shelve taken", "reset means nothing", "take_out taken"}, told)
	plain, _ := verdicts(t, replay.Options{})
	require.Equal(t, plain[:20], got[:20], "nothing differs before the first act")
	require.NotEqual(t, plain[20], got[20], "and something right after it")
}

// A part is judged as in the whole, and its totals are those of the part.
func TestAPartIsJudgedAsInTheWhole(t *testing.T) {
	whole, all := verdicts(t, replay.Options{Acts: done()})
	from := 300 * time.Second
	part, res := verdicts(t, replay.Options{Acts: done(), From: from})
	require.Equal(t, whole[len(whole)-len(part):], part)
	require.Equal(t, from, res.First)
	require.EqualValues(t, len(part), res.Totals.Frames)
	require.NotEqual(t, all.Digest, res.Digest)
	first := replayTo(t, from)
	for i := range all.Totals.Raised {
		require.Equal(t, all.Totals.Raised[i], first.Totals.Raised[i]+res.Totals.Raised[i])
	}
	require.InDelta(t, all.Totals.WaterM3, first.Totals.WaterM3+res.Totals.WaterM3, 1e-9)
	for r := range engine.NumRules {
		w, p, q := &all.Totals.Exposures[r], &first.Totals.Exposures[r], &res.Totals.Exposures[r]
		require.InDelta(t, w.WatchedS, p.WatchedS+q.WatchedS, 1e-6)
		require.InDelta(t, w.Severity, p.Severity+q.Severity, 1e-6*(1+w.Severity))
		require.Equal(t, w.Seen, p.Seen || q.Seen)
		if w.Seen && p.Seen && q.Seen {
			require.Equal(t, w.WorstShare, min(p.WorstShare, q.WorstShare), "%v", r)
		}
	}
	_, none := verdicts(t, replay.Options{From: time.Hour})
	require.Zero(t, none.Totals, "nothing is told of")
}

// replayTo replays only what lies before a time.
func replayTo(t *testing.T, to time.Duration) replay.Result {
	res, err := replay.Run(t.Context(), invented(t), &job{end: int(to/(100*time.Millisecond)) - 1}, replay.Options{Acts: done()})
	require.NoError(t, err)
	return res
}

// A replay that begins with alarms kept begins as a live engine does.
func TestKeptAlarmsAreThereFromTheFirstFrame(t *testing.T) {
	var k [engine.NumAlarms]engine.Kept
	k[hotter] = engine.Kept{Life: alarm.Kept{Base: alarm.Normal, Out: true}}
	for _, c := range []struct {
		kept *[engine.NumAlarms]engine.Kept
		want alarm.Phase
	}{{&k, alarm.OutOfService}, {nil, alarm.Normal}} {
		res, err := replay.Run(t.Context(), invented(t), &job{end: 1}, replay.Options{Kept: c.kept})
		require.NoError(t, err)
		require.Equal(t, c.want, res.Final.Alarms[hotter].Phase)
	}
}

func TestActsAreToldToPeopleAndPrograms(t *testing.T) {
	var out bytes.Buffer
	text := replay.NewText(&out, units.SI)
	lines := replay.NewLines(&out, "boot 3")
	wall := time.Date(2026, 5, 4, 9, 30, 0, 0, time.UTC)
	text.Act(done()[0], true, time.Time{})
	text.Act(done()[1], false, wall)
	lines.Act(done()[0], true, wall)
	got := strings.Split(out.String(), "\n")
	require.Contains(t, got[0], "person")
	require.Contains(t, got[0], "shelve for 10 min 00 s by Ada")
	require.Contains(t, got[1], "2026-05-04 09:30:00.0")
	require.Contains(t, got[1], "reset (means nothing here) by Ben")
	var o map[string]any
	require.NoError(t, json.Unmarshal([]byte(got[2]), &o))
	require.Equal(t, "act", o["type"])
	require.Equal(t, "sensor.water_temp", o["alarm"])
	require.Equal(t, 600.0, o["shelf_s"])
	require.Equal(t, true, o["taken"])
}
