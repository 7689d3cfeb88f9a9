package metrics

import (
	"flag"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	"github.com/prometheus/client_golang/prometheus/testutil"
	"github.com/stretchr/testify/require"

	"headroom/daemon/snapshot"
	"headroom/deploy/testneed"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/trend"
	"headroom/rules/units"
)

var update = flag.Bool("update", false, "write the golden files anew")

var noon = time.Date(2026, time.March, 2, 12, 0, 0, 0, time.UTC)

// running is an invented machine with one dead sensor and one standing alarm.
func running() *snapshot.Snapshot {
	s := &snapshot.Snapshot{Seq: 7240, Mono: 724 * time.Second, Wall: noon}
	v := &s.Verdicts
	v.Machine, v.Blind = machine.Running, 1
	f := frame.Frame{}
	f.Set(frame.InletPressure, 41e3)
	f.Set(frame.Flow, 0.000232)
	f.Set(frame.MotorCurrent, 13.1)
	f.Set(frame.AmbientTemp, 293.15)
	f.Set(frame.Trigger, 1)
	f.Samples[frame.WaterTemp] = frame.Sample{Value: 233.15, Status: frame.Failed}
	v.Samples = f.Samples
	for r := range v.Rules {
		v.Rules[r] = engine.Verdict{Rule: engine.RuleID(r), Judge: engine.NotFitted, Blame: frame.NumChannels, About: frame.NumChannels}
	}
	v.Rules[engine.WaterHot].Judge = engine.NoReading
	v.Rules[engine.InletLow] = engine.Verdict{Rule: engine.InletLow, Judge: engine.Watching, Value: 41e3, Limit: 50e3, Headroom: -9e3, Share: -0.045, Level: engine.Act}
	v.Rules[engine.CircuitLoad] = engine.Verdict{Rule: engine.CircuitLoad, Judge: engine.Watching, Value: 13.1, Limit: 20, Headroom: 6.9, Share: 0.69,
		Sure: trend.High, TimeToS: 40, EarliestS: 30, LatestS: 60}
	v.Alarms[engine.ActAlarm(engine.InletLow)] = engine.Standing{Active: true, Level: engine.Act, FirstOut: true, Phase: alarm.Acknowledged}
	v.Alarms[engine.ActAlarm(engine.NoFlow)] = engine.Standing{Active: true, Level: engine.Act, Phase: alarm.Suppressed, HasCause: true, Under: engine.ActAlarm(engine.InletLow)}
	v.Alarms[engine.WarnAlarm(engine.WaterHot)] = engine.Standing{Level: engine.Warning, Phase: alarm.Returned}
	v.Calling, v.Flood, s.Totals.Annunciated = 1, true, 4
	s.Totals.Frames, s.Totals.Starts, s.Totals.WaterM3, s.Totals.EnergyJ = 7240, 2, 0.163, 2.1e6
	s.Totals.InStateS[machine.Running] = 700
	s.Totals.Raised[engine.ActAlarm(engine.InletLow)] = 3
	s.Totals.Exposures[engine.InletLow] = engine.Exposure{WatchedS: 700, BeyondActS: 4, BeyondWarnS: 31}
	s.Health = snapshot.Health{LateTicks: 2, RecordDropped: 5, RecordError: "no space", Restarts: 1,
		System: []snapshot.SystemAlarm{{ID: snapshot.RecordFailing, Level: engine.Warning, Status: "no space"}},
		Notify: []snapshot.Notified{{Name: "webhook", Sent: 3, Failures: 1, Dropped: 2, Waiting: 1}}}
	return s
}

func collect(t *testing.T, s *snapshot.Snapshot, at time.Time) string {
	t.Helper()
	st := snapshot.NewStore()
	if s != nil {
		st.Publish(s)
		st.NoteAct(snapshot.ActEvent{Who: "Ada", Did: engine.Did{Alarm: engine.ActAlarm(engine.InletLow), Act: alarm.Acknowledge, Phase: alarm.Acknowledged}})
	}
	c := New(st, "0.0-test", "sensors")
	c.now = func() time.Time { return at }
	if s != nil {
		c.sender = func() (Remote, bool) {
			return Remote{Sent: 5000, Refused: 3, Known: 7, Minutes: 60, Bare: 2, Failures: 4, BytesOut: 90e3, BytesIn: 4e3, TodayBytes: 94e3,
				Failing: true, Behind: 90 * time.Second, HasBehind: true}, true
		}
	}
	reg := prometheus.NewPedanticRegistry()
	reg.MustRegister(c)
	problems, err := testutil.GatherAndLint(reg)
	require.NoError(t, err)
	require.Empty(t, problems)
	w := httptest.NewRecorder()
	promhttp.HandlerFor(reg, promhttp.HandlerOpts{}).ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/metrics", nil))
	require.Equal(t, http.StatusOK, w.Code)
	return regexp.MustCompile(`goversion="[^"]*"`).ReplaceAllString(w.Body.String(), `goversion="go"`)
}

func TestGoldenPage(t *testing.T) {
	for name, s := range map[string]*snapshot.Snapshot{"running": running(), "before": nil} {
		got := collect(t, s, noon.Add(time.Second))
		file := "testdata/" + name + ".prom"
		if *update {
			require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
		}
		want, err := os.ReadFile(file)
		require.NoError(t, err, "run the test with -update to make it")
		require.Equal(t, string(want), got)
	}
}

func TestPromtoolTakesThePage(t *testing.T) {
	cmd := exec.Command(testneed.Program(t, "prometheus", "promtool"), "check", "metrics")
	cmd.Stdin = strings.NewReader(collect(t, running(), noon))
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, string(out))
	require.Empty(t, string(out))
	cmd = exec.Command(cmd.Path, "check", "metrics")
	cmd.Stdin = strings.NewReader("# TYPE headroom_milliseconds counter\nheadroom_milliseconds 1\n")
	require.Error(t, cmd.Run(), "and the check can fail")
}

func TestDeadSensorHasNoValue(t *testing.T) {
	got := collect(t, running(), noon)
	require.Contains(t, got, `headroom_channel_status{channel="water_temp",status="failed"} 1`)
	require.Contains(t, got, `headroom_temperature_celsius{channel="ambient_temp"} 20`)
	require.NotContains(t, got, `_celsius{channel="water_temp"}`)
	require.NotContains(t, got, `headroom_rule_headroom_ratio{rule="water_hot"}`)
	require.Contains(t, got, `headroom_rule_judge{judge="no_reading",rule="water_hot"} 1`)
}

func TestNothingIsClaimedOfAnOldTick(t *testing.T) {
	got := collect(t, running(), noon.Add(oldAfter+time.Second))
	require.Contains(t, got, "headroom_fresh 0")
	require.Contains(t, got, `headroom_channel_status{channel="inlet_pressure",status="stale"} 1`)
	require.Contains(t, got, `headroom_channel_status{channel="shaft_speed",status="not_fitted"} 1`)
	require.Contains(t, got, `headroom_machine_state{state="unknown"} 1`)
	require.NotRegexp(t, regexp.MustCompile(`(?m)^headroom_(pressure|flow|current|temperature|rule_headroom|rule_margin|rule_time)`), got)
	require.Contains(t, got, "headroom_starts_total 2", "what was counted stays true")
}

// Water that no meter counted is not told as none.
func TestWaterWithoutAMeterHasNoCounter(t *testing.T) {
	s := running()
	require.Contains(t, collect(t, s, noon), "headroom_water_cubic_meters_total 0.163")
	s.Verdicts.Samples[frame.Flow], s.Totals.WaterM3 = frame.Sample{}, 0
	require.NotContains(t, collect(t, s, noon), "\nheadroom_water")
}

func TestPhases(t *testing.T) {
	s := running()
	quiet := engine.ActAlarm(engine.InletHigh)
	got := collect(t, s, noon)
	require.Contains(t, got, `headroom_alarm_phase{alarm="inlet_low.act",phase="acknowledged"} 1`)
	require.Contains(t, got, `headroom_alarm_phase{alarm="inlet_low.act",phase="unacknowledged"} 0`)
	require.Contains(t, got, `headroom_alarm_phase{alarm="no_flow.act",phase="suppressed"} 1`)
	require.NotContains(t, got, `headroom_alarm_phase{alarm="`+quiet.String(), "an alarm that nobody has seen has no series")
	require.NotContains(t, got, `phase="normal"`)
	require.Contains(t, got, "headroom_alarms_calling 1\n")
	require.Contains(t, got, "headroom_alarm_flood 1\n")
	require.Contains(t, got, "headroom_alarm_annunciations_total 4\n")
	require.Contains(t, got, `headroom_alarm_acts_total{act="acknowledge"} 1`)
	require.Contains(t, got, `headroom_alarm_acts_total{act="take_out"} 0`)

	s.Verdicts.Alarms = [engine.NumAlarms]engine.Standing{}
	s.Totals.Raised[engine.ActAlarm(engine.InletLow)] = 1
	require.Contains(t, collect(t, s, noon), `headroom_alarm_phase{alarm="inlet_low.act",phase="acknowledged"} 0`, "what came up once reads 0 and does not vanish")
}

// TestPhasesAreBounded: the worst page is every alarm that ever came up.
func TestPhasesAreBounded(t *testing.T) {
	s := running()
	for i := range s.Totals.Raised {
		s.Totals.Raised[i] = 1
	}
	n := strings.Count(collect(t, s, noon), "\nheadroom_alarm_phase{")
	require.Equal(t, engine.NumAlarms*int(alarm.NumPhases-1), n)
}

func TestNoNumberThatIsNone(t *testing.T) {
	s := running()
	s.Verdicts.Samples[frame.Flow].Value = math.NaN()
	s.Verdicts.Rules[engine.InletLow].Share = math.Inf(-1)
	s.Verdicts.Rules[engine.CircuitLoad].TimeToS = math.NaN()
	require.NotRegexp(t, regexp.MustCompile(`(?m) (NaN|[+-]Inf)$`), collect(t, s, noon))
}

// TestBaseUnits checks what the linter lets pass. Source: Prometheus
// documentation, "Metric and label naming", table of base units.
func TestBaseUnits(t *testing.T) {
	got := collect(t, running(), noon)
	allowed := regexp.MustCompile(`_(pascals|celsius|meters|cubic_meters|cubic_meters_per_second|amperes|volts|hertz|meters_per_second_squared|ratio|seconds|joules|bytes|info|total)$`)
	unitless := regexp.MustCompile(`^headroom_(fresh|channel_status|switch_on|rule_judge|rules_blind|alarm_active|alarm_phase|alarms_calling|alarm_flood|machine_state|record_failing|notify_waiting|system_alarm_active|remote_failing|remote_holding)$`)
	for _, m := range regexp.MustCompile(`(?m)^# TYPE (\S+) (\S+)$`).FindAllStringSubmatch(got, -1) {
		name := m[1]
		require.True(t, strings.HasPrefix(name, "headroom_"), name)
		require.True(t, allowed.MatchString(name) || unitless.MatchString(name), "%s ends in no base unit", name)
		require.NotRegexp(t, regexp.MustCompile(`psi|bar_|_bar|gpm|liter|litre|fahrenheit|kelvin|kpa|minutes|hours|percent|milli|kilo|mega|rpm|kwh`), name)
		require.Equal(t, strings.HasSuffix(name, "_total"), m[2] == "counter", name)
	}
}

func TestEveryQuantityOfAChannelHasAMetric(t *testing.T) {
	c := New(snapshot.NewStore(), "", "sensors")
	for ch := range frame.NumChannels {
		require.Contains(t, c.d.values, ch.Quantity(), ch.String())
	}
	for r := range engine.NumRules {
		if q := r.Spec().Difference; q != units.None && q != units.Switch {
			require.Contains(t, c.d.margins, q, r.String())
		}
	}
}

func TestHandler(t *testing.T) {
	st := snapshot.NewStore()
	s := running()
	s.Wall = time.Now()
	st.Publish(s)
	w := httptest.NewRecorder()
	Handler(st, "1.2", "simulator", nil).ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/metrics", nil))
	require.Equal(t, http.StatusOK, w.Code)
	require.Contains(t, w.Body.String(), `headroom_build_info{goversion=`)
	require.Contains(t, w.Body.String(), "headroom_fresh 1")
	require.Contains(t, w.Body.String(), `headroom_readings_info{from="simulator"} 1`, "a demo must never pass for a machine")
}

func BenchmarkCollect(b *testing.B) {
	st := snapshot.NewStore()
	st.Publish(running())
	reg := prometheus.NewRegistry()
	reg.MustRegister(New(st, "", "sensors"))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := reg.Gather(); err != nil {
			b.Fatal(err)
		}
	}
}
