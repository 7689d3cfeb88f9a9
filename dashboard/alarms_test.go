package dashboard

import (
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/rules/words"
)

func rowsOf(t *testing.T, sc *scene) []alarmRow {
	t.Helper()
	return newServer(testOptions(), sc.feed()).alarmRows(&sc.snap, units.SI)
}

func names(rows []alarmRow) (out []string) {
	for i := range rows {
		out = append(out, rows[i].Name)
	}
	return out
}

func TestConsequencesStandUnderTheirCause(t *testing.T) {
	rows := rowsOf(t, starving())
	require.Equal(t, []string{"inlet_low.act"}, names(rows))
	require.Equal(t, []string{"inlet_low.warn", "flow_short.warn"}, names(rows[0].Under))
	require.True(t, rows[0].Under[0].Stage, "the first stage of the same limit has no advice of its own")
	require.False(t, rows[0].Under[1].Stage)
	require.Equal(t, "first: Inlet pressure is getting low, at 14:04:37.0, 11 min 12.0 s into run 147.1", rows[0].First, "which came first is said at the top, by when it began")
	require.Equal(t, "1st: came first, at 14:04:37.0, 11 min 12.0 s into run 147.1", rows[0].Under[0].First)
}

func TestAConsequenceIsNeverLost(t *testing.T) {
	sc := steady()
	sc.alarm(engine.WarnAlarm(engine.FlowShort), engine.Warning, time.Second, false)
	for _, under := range []engine.AlarmID{engine.ActAlarm(engine.InletLow), engine.AlarmID(engine.NumAlarms), 255} {
		sc.put(engine.WarnAlarm(engine.FlowShort), under)
		require.Equal(t, []string{"flow_short.warn"}, names(rowsOf(t, sc)), "its cause has no row")
	}
}

func TestOrderOfTheList(t *testing.T) {
	require.Equal(t, []string{
		"circuit_load.act", "water_hot.warn", // what stands, worst first
		"start_jam.act", "power_lost.act", "no_flow.act", // what is over, oldest first
		"inlet_high.warn", "sensor.motor_temp", // what people put aside
	}, names(rowsOf(t, phases())))

	sc := steady()
	sc.alarm(engine.WarnAlarm(engine.WaterHot), engine.Warning, 9*time.Second, false)
	sc.alarm(engine.WarnAlarm(engine.InletHigh), engine.Warning, 5*time.Second, true)
	require.Equal(t, []string{"inlet_high.warn", "water_hot.warn"}, names(rowsOf(t, sc)), "first-out before older")
}

// TestEveryPhaseLooksDifferent checks words, shape and acts of each phase: by
// ANSI/ISA-18.2 each state must be told from the others, and by WCAG 2.2, 1.4.1
// not by colour alone.
func TestEveryPhaseLooksDifferent(t *testing.T) {
	parts, err := os.ReadFile("templates/parts.html")
	require.NoError(t, err)
	shapes := map[string]string{}
	for _, m := range regexp.MustCompile(`<symbol id="p-([a-z-]+)"[^>]*>(.*?)</symbol>`).FindAllStringSubmatch(string(parts), -1) {
		shapes[m[1]] = m[2]
	}
	cases := []struct {
		phase alarm.Phase
		words string
		can   abilities
	}{
		{alarm.Unacknowledged, "not acknowledged", abilities{Acknowledge: true, Shelve: true}},
		{alarm.Acknowledged, "acknowledged", abilities{Shelve: true}},
		{alarm.Returned, "returned to normal, not acknowledged", abilities{Acknowledge: true, Shelve: true}},
		{alarm.LatchedUnacknowledged, "latched, not acknowledged", abilities{Acknowledge: true}},
		{alarm.LatchedAcknowledged, "latched, waiting for reset", abilities{Reset: true}},
		{alarm.Shelved, "shelved until 14:16", abilities{Unshelve: true}},
		{alarm.Suppressed, "shown under its cause", abilities{}},
		{alarm.OutOfService, "out of service", abilities{PutBack: true}},
	}
	require.Len(t, cases, int(alarm.NumPhases)-1)
	seen := map[string]bool{}
	for _, c := range cases {
		sc := steady()
		sc.alarm(lowAct, engine.Act, time.Second, false)
		sc.phase(lowAct, c.phase).ShelvedUntil = sc.snap.Mono + 11*time.Minute
		row := rowsOf(t, sc)[0]
		require.Equal(t, c.words, row.PhaseWords)
		require.Equal(t, c.can, row.Can, c.words)
		require.Equal(t, calls(c.phase), row.Calls)
		require.NotEmpty(t, shapes[row.Phase], row.Phase)
		require.False(t, seen[shapes[row.Phase]], "%s has another's shape", row.Phase)
		seen[shapes[row.Phase]] = true
	}
}

func TestShelfWithoutAClock(t *testing.T) {
	sc := steady()
	sc.alarm(lowAct, engine.Act, time.Second, true)
	sc.phase(lowAct, alarm.Shelved).ShelvedUntil = sc.snap.Mono + 11*time.Minute
	sc.snap.Wall = time.Unix(0, 0).UTC()
	row := rowsOf(t, sc)[0]
	require.Equal(t, "shelved for 11 min 00 s more", row.PhaseWords)
	require.Equal(t, "1st: came first, at clock not set", row.First)
}

func TestWhatIsOverDoesNotAskAsLoud(t *testing.T) {
	v := newServer(testOptions(), gone().feed()).view(prefs{})
	require.Equal(t, "advice", v.CallLevel)
	require.Equal(t, "Was: Act now", v.Loudest.Level)
	require.Equal(t, 1, v.Calling)
	v = newServer(testOptions(), starving().feed()).view(prefs{})
	require.Equal(t, "act", v.CallLevel)
	require.Empty(t, newServer(testOptions(), steady().feed()).view(prefs{}).CallLevel)
}

// TestTurnDownAndTripStandInTheAction runs the real engine into an overload:
// the figures are its own.
func TestTurnDownAndTripStandInTheAction(t *testing.T) {
	m := newLiveMachine(t, liveConfig())
	m.set(frame.MotorCurrent, 28)
	m.feed(10 * time.Second)
	s := newServer(m.options(), m.store)
	snap := m.store.Latest()
	cut, ok := term(&snap.Verdicts.Rules[engine.CircuitLoad], engine.TermTurnDown)
	require.True(t, ok)
	row := s.alarmRow(snap, engine.ActAlarm(engine.CircuitLoad), units.SI)
	require.Contains(t, row.Action, "turn the unloader down by "+gaugeStep(cut)+" before you go on")
	require.Regexp(t, regexp.MustCompile(`^At this load the breaker trips between .* and .* from now\.$`), row.Trip)
	page := text(t, get(t, New(m.options()), "/"))
	require.Contains(t, answerOf(page), "trips between")
	require.Contains(t, answerOf(page), gaugeStep(cut))

	m.set(frame.MotorCurrent, 12)
	m.feed(3 * time.Second)
	snap = m.store.Latest()
	require.Empty(t, s.alarmRow(snap, engine.ActAlarm(engine.CircuitLoad), units.SI).Trip, "no trip is in sight")
}

func TestGaugeSteps(t *testing.T) {
	const psi = 6894.757 // NIST SP 811
	cases := []struct {
		pa   float64
		want string
	}{
		{130 * psi, "0.9 MPa (130 psi)"}, {2e6, "2.0 MPa (290 psi)"}, {1, "0.1 MPa (10 psi)"}, {94e3, "0.1 MPa (10 psi)"},
	}
	for _, c := range cases {
		require.Equal(t, c.want, gaugeStep(c.pa))
	}
}

// The figure goes into the sentence that asks for less pressure; where the
// words change so that there is none, this fails and not the page.
func TestTheActionsAskToTurnTheUnloaderDown(t *testing.T) {
	for _, a := range []engine.AlarmID{
		engine.WarnAlarm(engine.CircuitLoad), engine.ActAlarm(engine.CircuitLoad), engine.WarnAlarm(engine.BreakerTime),
		engine.ActAlarm(engine.BreakerTime), engine.WarnAlarm(engine.MotorHeat),
	} {
		require.Contains(t, words.Alarm(a).Action, turnPhrase, a.String())
	}
}

func TestNewestOfEventsAndActs(t *testing.T) {
	sc := starving()
	sc.did("Ada", lowAct, alarm.Acknowledge, alarm.Acknowledged, 2*time.Second, 0)
	rows := newServer(testOptions(), sc.feed()).eventRows(units.SI)
	require.Len(t, rows, 4)
	require.Equal(t, eventRow{Clock: "14:05:07", What: "acknowledged", Tone: "person", Level: "by Ada", Title: "Pump is starving", Detail: "now acknowledged", Person: true, t: rows[0].t}, rows[0])
	require.Equal(t, "came up", rows[1].What)
	for i := range 30 {
		sc.did("Ada", lowAct, alarm.Shelve, alarm.Shelved, time.Duration(30-i)*time.Millisecond, time.Hour)
	}
	rows = newServer(testOptions(), sc.feed()).eventRows(units.SI)
	require.Len(t, rows, shownEvents)
	require.Equal(t, "shelved for 1 h", rows[0].What)
}

// TestFlashing holds the style sheet against WCAG 2.2, 2.3.1 (at most three
// flashes in a second) and IEC 60073 (0.4 to 0.8 Hz slow, 1.4 to 2.8 Hz fast,
// from memory): between 0.5 and 2 Hz, only what calls, never the text.
func TestFlashing(t *testing.T) {
	css, err := os.ReadFile("static/app.css")
	require.NoError(t, err)
	frames := regexp.MustCompile(`@keyframes ([a-z-]+) \{ 50% \{ ([a-z-]+): ([^;]*); \} \}`).FindAllStringSubmatch(string(css), -1)
	require.Len(t, frames, strings.Count(string(css), "@keyframes"), "a flash of another form escapes this test")
	require.NotEmpty(t, frames)
	for _, f := range frames {
		require.Equal(t, "opacity", f[2], "%s changes more than whether a frame is seen", f[1])
	}
	uses := regexp.MustCompile(`(?m)^\s*([^{\n]*)\{[^}]*animation: ([a-z-]+) ([0-9.]+)s`).FindAllStringSubmatch(string(css), -1)
	require.Len(t, uses, len(frames))
	for _, u := range uses {
		period, err := strconv.ParseFloat(u[3], 64)
		require.NoError(t, err)
		require.GreaterOrEqual(t, period, 0.5)
		require.LessOrEqual(t, period, 2.0)
		require.Regexp(t, regexp.MustCompile(`calling|thumb`), u[1])
		for _, selector := range strings.Split(u[1], ",") {
			require.True(t, strings.HasSuffix(strings.TrimSpace(selector), "::before"), "%s may hold text", selector)
		}
		require.Contains(t, u[0], `content: "";`, "a frame without text")
	}
	_, calm, found := strings.Cut(string(css), "@media (prefers-reduced-motion: reduce) {")
	require.True(t, found)
	require.NotContains(t, calm, "1s step-end", "the rule that calms must come last")
}

func TestThumbIsForTheOneThatAsksMost(t *testing.T) {
	page := text(t, get(t, newServer(testOptions(), phases().feed()).handler(), "/"))
	_, thumb, _ := strings.Cut(page, `data-region="thumb">`)
	require.Contains(t, thumb, `action="/alarms/water_hot.warn/acknowledge"`)
	require.NotContains(t, text(t, get(t, newServer(testOptions(), steady().feed()).handler(), "/")), `class="press"`)
}

func TestAlarmPage(t *testing.T) {
	h := newServer(testOptions(), phases().feed()).handler()
	page := text(t, get(t, h, "/alarms/water_hot.warn"))
	for _, want := range []string{"Inlet water is getting hot", "not acknowledged", "Open the trigger", "Water goes round in the bypass", `name="shelf" value="15m"`, `name="shelf" value="shift"`, "/handbook#water_hot"} {
		require.Contains(t, page, want)
	}
	require.NotContains(t, page, "refresh", "nothing moves under the finger of a person who chooses")
	quiet := text(t, get(t, h, "/alarms/frost.act"))
	require.Contains(t, quiet, "It does not stand now.")
	require.NotContains(t, quiet, `action="/alarms`)
	require.Contains(t, text(t, get(t, h, "/alarms/sensor.flow")), "/handbook#sensors")
	require.Contains(t, text(t, get(t, h, "/alarms/start_jam.act")), `action="/alarms/start_jam.act/reset"`)
}

func TestHandbookPage(t *testing.T) {
	page := text(t, get(t, newServer(testOptions(), steady().feed()).handler(), "/handbook"))
	golden(t, "handbook.html", page)
	for _, want := range []string{`id="inlet_low"`, "20 kPa (2.9 psi) or below", "it wears in seconds", "Flow against need, Own normal", `id="sensors"`, "certified safety device"} {
		require.Contains(t, page, want)
	}
	// None but that of the line about alarms, which every page has.
	require.Equal(t, 1, strings.Count(page, "<script"))
	require.Contains(t, page, `<script type="module" src="/static/standing.js"></script>`)
	opt := testOptions()
	opt.Handbook = nil
	h := newServer(opt, steady().feed()).handler()
	bare := text(t, get(t, h, "/handbook"))
	require.NotContains(t, bare, `id="inlet_low"`)
	require.Contains(t, bare, `href="/cautions"`)
}
