package dashboard

import (
	"context"
	"math"
	"time"

	"headroom/daemon/snapshot"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/trend"
	"headroom/rules/units"
)

// All figures here are invented; none comes from a real machine.

// noon is the wall time of the last tick in every scene.
var noon = time.Date(2026, time.March, 2, 14, 5, 9, 0, time.UTC)

// fakeFeed adds events to a store, which only an engine can put there. Its start
// has the same name each time.
type fakeFeed struct {
	*snapshot.Store
	events []snapshot.Event
}

// testStart names the start of the program in every scene.
const testStart = "TESTSTART234"

func (f *fakeFeed) Start() string { return testStart }

func (f *fakeFeed) Events(after uint64) []snapshot.Event {
	for i := range f.events {
		if f.events[i].ID > after {
			return f.events[i:]
		}
	}
	return nil
}

const psi, degC, lpm = 6894.757, 273.15, 1.0 / 60000

func testLimits() *[engine.NumRules]engine.Limit {
	var l [engine.NumRules]engine.Limit
	set := func(r engine.RuleID, warn, act, span float64) {
		l[r] = engine.Limit{On: true, Warn: warn, Act: act, HasWarn: true, HasAct: true, WarnLevel: engine.Warning, ActLevel: engine.Act,
			Span: span, Source: "invented for the test"}
	}
	set(engine.InletLow, 100e3, 50e3, 200e3)
	set(engine.InletHigh, 700e3, 860e3, 500e3)
	set(engine.WaterHot, 50+degC, 60+degC, 40)
	set(engine.NPSHMargin, 2, 0.5, 10)
	set(engine.FlowShort, 0.93, 0.85, 0.15)
	set(engine.CircuitLoad, 16, 20, 10)
	set(engine.NoFlow, 4*lpm, 2*lpm, 12*lpm)
	set(engine.Bypass, 120, 300, 300)
	return &l
}

// scene is a snapshot with the readings before it.
type scene struct {
	snap   snapshot.Snapshot
	points int
	before func(k int, s *[frame.NumChannels]frame.Sample)
	events []snapshot.Event
	acts   []snapshot.ActEvent
}

// watch sets a rule's verdict from its value.
func (s *scene) watch(r engine.RuleID, value float64) *engine.Verdict {
	l := testLimits()[r]
	v := &s.snap.Verdicts.Rules[r]
	room := value - l.Act
	if r.Spec().HighIsBad {
		room = -room
	}
	*v = engine.Verdict{Rule: r, Judge: engine.Watching, Blame: frame.NumChannels, About: frame.NumChannels, Value: value, Limit: l.Act, Headroom: room, Share: room / l.Span}
	return v
}

func (s *scene) cannot(r engine.RuleID, j engine.Judge, c frame.Channel) {
	s.snap.Verdicts.Rules[r] = engine.Verdict{Rule: r, Judge: j, Blame: c, About: frame.NumChannels}
	if j.Blind() {
		s.snap.Verdicts.Blind++
	}
}

func (s *scene) alarm(a engine.AlarmID, l engine.Level, ago time.Duration, first bool) {
	s.snap.Verdicts.Alarms[a] = engine.Standing{Active: true, Level: l, Since: s.snap.Mono - ago, Onset: s.snap.Mono - ago - time.Second, FirstOut: first, Phase: alarm.Unacknowledged}
	s.snap.Verdicts.Calling++
	s.snap.Verdicts.Level = max(s.snap.Verdicts.Level, l)
	e := snapshot.Event{ID: uint64(len(s.events) + 1), Wall: s.snap.Wall.Add(-ago)}
	e.Transition = engine.Transition{T: s.snap.Mono - ago, Alarm: a, Raised: true, Level: l, Onset: s.snap.Mono - ago - time.Second, First: first, Machine: s.snap.Verdicts.Machine}
	if r, ok := a.Rule(); ok {
		s.snap.Verdicts.Rules[r].Level = max(s.snap.Verdicts.Rules[r].Level, l)
		e.Value, e.Limit = s.snap.Verdicts.Rules[r].Value, s.snap.Verdicts.Rules[r].Limit
	} else if c, ok := a.Channel(); ok {
		e.Status = s.snap.Verdicts.Samples[c].Status
	}
	if first {
		at := s.snap.Verdicts.Samples
		e.Samples = &at
	}
	s.events = append(s.events, e)
}

// phase sets where an alarm stands in its life.
func (s *scene) phase(a engine.AlarmID, p alarm.Phase) *engine.Standing {
	st := &s.snap.Verdicts.Alarms[a]
	if calls(st.Phase) && !calls(p) {
		s.snap.Verdicts.Calling--
	}
	st.Phase = p
	return st
}

// put puts an alarm under its cause.
func (s *scene) put(a, under engine.AlarmID) {
	st := s.phase(a, alarm.Suppressed)
	st.Under, st.HasCause = under, true
}

// over makes an alarm one whose condition is gone.
func (s *scene) over(a engine.AlarmID, p alarm.Phase, ago time.Duration) {
	st := s.phase(a, p)
	if r, ok := a.Rule(); ok {
		s.snap.Verdicts.Rules[r].Level = engine.Normal
	}
	st.Active, st.Since, st.FirstOut = false, s.snap.Mono-ago, false
}

// steady is a machine that works well.
func steady() *scene {
	s := &scene{points: 300}
	s.snap = snapshot.Snapshot{Seq: 7240, Mono: 724 * time.Second, Wall: noon}
	vd := &s.snap.Verdicts
	vd.T, vd.Machine, vd.MachineSince = s.snap.Mono, machine.Running, 0
	f := frame.Frame{}
	f.Set(frame.InletPressure, 241e3)
	f.Set(frame.WaterTemp, 17.4+degC)
	f.Set(frame.Flow, 13.9*lpm)
	f.Set(frame.MotorCurrent, 13.1)
	f.Set(frame.OutletPressure, 10.3e6)
	f.Set(frame.ShaftSpeed, 29)
	f.Set(frame.Trigger, 1)
	vd.Samples = f.Samples
	for r := range engine.NumRules {
		s.cannot(r, engine.SwitchedOff, frame.NumChannels)
	}
	s.watch(engine.InletLow, 241e3)
	s.watch(engine.InletHigh, 241e3)
	s.watch(engine.WaterHot, 17.4+degC)
	s.watch(engine.NPSHMargin, 9.6).Assumed = true
	s.watch(engine.FlowShort, 0.99)
	s.watch(engine.CircuitLoad, 13.1)
	s.watch(engine.NoFlow, 13.9*lpm)
	s.cannot(engine.Bypass, engine.NotNow, frame.NumChannels)
	s.cannot(engine.TankLow, engine.NotFitted, frame.TankLevel)
	s.cannot(engine.OutletHigh, engine.NotSet, frame.NumChannels)
	s.snap.Totals.Frames, s.snap.Totals.Starts, s.snap.Totals.WaterM3 = 7240, 1, 0.163
	s.before = func(k int, smp *[frame.NumChannels]frame.Sample) {
		ripple := math.Sin(float64(k)/7) + 0.4*math.Sin(float64(k)*1.9)
		smp[frame.InletPressure].Value += 5e3 * ripple
		smp[frame.MotorCurrent].Value += 0.15 * ripple
		smp[frame.Flow].Value += 0.1 * lpm * ripple
		smp[frame.OutletPressure].Value += 60e3 * ripple
		smp[frame.WaterTemp].Value -= 0.002 * float64(k)
	}
	return s
}

// starving is a machine whose supply gives in: one trend, two alarms.
func starving() *scene {
	s := steady()
	vd := &s.snap.Verdicts
	vd.Samples[frame.InletPressure].Value = 41e3
	vd.Samples[frame.Flow].Value = 12.1 * lpm
	s.watch(engine.InletLow, 41e3).Cause = engine.CauseStarvation
	s.watch(engine.InletHigh, 41e3)
	s.watch(engine.FlowShort, 0.90)
	v := s.watch(engine.NPSHMargin, 2.4)
	v.Sure, v.TimeToS, v.EarliestS, v.LatestS = trend.High, 21, 17, 28
	s.alarm(engine.WarnAlarm(engine.InletLow), engine.Warning, 31*time.Second, true)
	s.alarm(engine.WarnAlarm(engine.FlowShort), engine.Warning, 12*time.Second, false)
	s.alarm(engine.ActAlarm(engine.InletLow), engine.Act, 4*time.Second, false)
	s.put(engine.WarnAlarm(engine.InletLow), engine.ActAlarm(engine.InletLow))
	s.put(engine.WarnAlarm(engine.FlowShort), engine.ActAlarm(engine.InletLow))
	s.snap.Health.Run, s.snap.Health.RunBegan = "147.1", 20*time.Second
	was := s.before
	s.before = func(k int, smp *[frame.NumChannels]frame.Sample) {
		was(k, smp)
		fall := math.Min(float64(k)/60, 1)
		smp[frame.InletPressure].Value += 200e3 * fall
		smp[frame.Flow].Value += 1.8 * lpm * fall
	}
	return s
}

// starvingBlind is starving with a wire off besides.
func starvingBlind() *scene {
	s := starving()
	s.snap.Verdicts.Samples[frame.WaterTemp] = frame.Sample{Status: frame.Failed}
	s.cannot(engine.WaterHot, engine.NoReading, frame.WaterTemp)
	return s
}

// nearing is a machine that warms towards its limit, without an alarm yet.
func nearing() *scene {
	s := steady()
	s.snap.Verdicts.Samples[frame.WaterTemp].Value = 46.2 + degC
	v := s.watch(engine.WaterHot, 46.2+degC)
	v.Sure, v.TimeToS, v.EarliestS, v.LatestS = trend.Low, 174, 130, 260
	was := s.before
	s.before = func(k int, smp *[frame.NumChannels]frame.Sample) {
		was(k, smp)
		smp[frame.WaterTemp].Value -= 0.08 * float64(k)
	}
	return s
}

// sensorLost is a machine that runs on with a broken wire.
func sensorLost() *scene {
	s := steady()
	vd := &s.snap.Verdicts
	vd.Samples[frame.WaterTemp] = frame.Sample{Value: -40 + degC, Status: frame.Failed}
	s.snap.Notes[frame.WaterTemp] = "open circuit, 2.1 mA"
	s.cannot(engine.WaterHot, engine.NoReading, frame.WaterTemp)
	s.cannot(engine.NPSHMargin, engine.NoReading, frame.WaterTemp)
	s.alarm(engine.SensorAlarm(frame.WaterTemp), engine.Warning, 48*time.Second, true)
	s.before = func(k int, smp *[frame.NumChannels]frame.Sample) {
		if k > 48 {
			smp[frame.WaterTemp] = frame.Sample{Value: 17 + degC + 0.1*math.Sin(float64(k)/9), Status: frame.Good}
		}
	}
	s.snap.Health.RecordError = "cannot write to the card: no space left"
	s.snap.Health.System = []snapshot.SystemAlarm{{ID: snapshot.RecordFailing, Level: engine.Warning, Status: "cannot write to the card: no space left", Since: s.snap.Mono - 95*time.Second}}
	return s
}

// idle is a machine that stands, with little fitted.
func idle() *scene {
	s := &scene{points: 40}
	s.snap = snapshot.Snapshot{Seq: 400, Mono: 40 * time.Second, Wall: noon}
	vd := &s.snap.Verdicts
	vd.Machine, vd.MachineSince = machine.Stopped, time.Second
	f := frame.Frame{}
	f.Set(frame.InletPressure, 310e3)
	f.Set(frame.MotorCurrent, 0.02)
	vd.Samples = f.Samples
	for r := range engine.NumRules {
		s.cannot(r, engine.NotFitted, frame.WaterTemp)
	}
	s.cannot(engine.InletLow, engine.NotNow, frame.NumChannels)
	s.cannot(engine.CircuitLoad, engine.NotNow, frame.NumChannels)
	return s
}

// lateAlarm is a value beyond its limit before the delay has run out.
func lateAlarm() *scene {
	s := steady()
	s.snap.Verdicts.Samples[frame.MotorCurrent].Value = 20.6
	s.watch(engine.CircuitLoad, 20.6)
	return s
}

// phases is a machine with an alarm in every phase, a flood, a chattering alarm
// and what people did.
func phases() *scene {
	s := steady()
	s.snap.Verdicts.Samples[frame.MotorCurrent].Value = 20.4
	s.watch(engine.CircuitLoad, 20.4)
	s.alarm(engine.ActAlarm(engine.CircuitLoad), engine.Act, 21*time.Second, false)
	s.phase(engine.ActAlarm(engine.CircuitLoad), alarm.Acknowledged).Chatter = true
	s.alarm(engine.WarnAlarm(engine.CircuitLoad), engine.Warning, 40*time.Second, true)
	s.put(engine.WarnAlarm(engine.CircuitLoad), engine.ActAlarm(engine.CircuitLoad))
	s.alarm(engine.WarnAlarm(engine.BreakerTime), engine.Warning, 11*time.Second, false)
	s.put(engine.WarnAlarm(engine.BreakerTime), engine.ActAlarm(engine.CircuitLoad))
	s.alarm(engine.WarnAlarm(engine.WaterHot), engine.Warning, 9*time.Second, false)
	s.alarm(engine.ActAlarm(engine.PowerLost), engine.Act, 300*time.Second, false)
	s.over(engine.ActAlarm(engine.PowerLost), alarm.LatchedUnacknowledged, 200*time.Second)
	s.alarm(engine.ActAlarm(engine.StartJam), engine.Act, 500*time.Second, false)
	s.over(engine.ActAlarm(engine.StartJam), alarm.LatchedAcknowledged, 400*time.Second)
	s.alarm(engine.ActAlarm(engine.NoFlow), engine.Act, 90*time.Second, false)
	s.over(engine.ActAlarm(engine.NoFlow), alarm.Returned, 60*time.Second)
	s.alarm(engine.WarnAlarm(engine.InletHigh), engine.Warning, 70*time.Second, false)
	s.phase(engine.WarnAlarm(engine.InletHigh), alarm.Shelved).ShelvedUntil = s.snap.Mono + 11*time.Minute
	s.alarm(engine.SensorAlarm(frame.MotorTemp), engine.Advice, 80*time.Second, false)
	s.phase(engine.SensorAlarm(frame.MotorTemp), alarm.OutOfService)
	s.snap.Verdicts.Level, s.snap.Verdicts.Flood = engine.Act, true
	s.did("Ada", engine.ActAlarm(engine.CircuitLoad), alarm.Acknowledge, alarm.Acknowledged, 15*time.Second, 0)
	s.did("dashboard", engine.WarnAlarm(engine.InletHigh), alarm.Shelve, alarm.Shelved, 4*time.Minute, 15*time.Minute)
	return s
}

// did adds what a person did.
func (s *scene) did(who string, a engine.AlarmID, act alarm.Act, p alarm.Phase, ago, shelf time.Duration) {
	s.acts = append(s.acts, snapshot.ActEvent{Wall: s.snap.Wall.Add(-ago), Who: who, Did: engine.Did{T: s.snap.Mono - ago, Alarm: a, Act: act, Phase: p, Shelf: shelf}})
}

// gone is a machine that works well again, with an alarm that nobody saw.
func gone() *scene {
	s := steady()
	s.alarm(engine.ActAlarm(engine.InletLow), engine.Act, 90*time.Second, false)
	s.over(engine.ActAlarm(engine.InletLow), alarm.Returned, 60*time.Second)
	s.snap.Verdicts.Rules[engine.InletLow].Level, s.snap.Verdicts.Level = engine.Normal, engine.Normal
	return s
}

// latched is gone, seen by somebody and held until its reset.
func latched() *scene {
	s := gone()
	s.over(engine.ActAlarm(engine.InletLow), alarm.LatchedAcknowledged, 60*time.Second)
	return s
}

func scenes() map[string]*scene {
	return map[string]*scene{
		"normal": steady(), "nearing": nearing(), "alarm": starving(), "sensor_lost": sensorLost(), "not_watching": idle(), "limit_passed": lateAlarm(),
		"phases": phases(), "gone": gone(), "bus_off": busOff(), "alarm_blind": starvingBlind(),
	}
}

// feed publishes the scene, with the readings of the minutes before it.
func (s *scene) feed() *fakeFeed {
	f := &fakeFeed{Store: snapshot.NewStore(), events: s.events}
	for k := s.points; k > 0; k-- {
		p := s.snap
		p.Seq, p.Mono, p.Wall = s.snap.Seq-uint64(k), s.snap.Mono-time.Duration(k)*time.Second, s.snap.Wall.Add(-time.Duration(k)*time.Second)
		if s.before != nil {
			s.before(k, &p.Verdicts.Samples)
		}
		f.Publish(&p)
	}
	for _, a := range s.acts {
		f.NoteAct(a)
	}
	p := s.snap
	f.Publish(&p)
	return f
}

// testHandbook is one entry, invented.
func testHandbook() *Handbook {
	return &Handbook{
		Machine: "Demo jetter", Levels: []HandbookTerm{{"Act now", "at once"}}, Phases: []HandbookTerm{{"shelved", "put aside"}},
		Entries: []HandbookEntry{{
			Rule: "inlet_low", Label: "Inlet pressure, low", Judges: "The pump starves.", Cause: "A kink.", Consequence: "It wears.",
			Stages:   []HandbookStage{{"inlet_low.act", "Pump is starving", "Act now", "20 kPa (2.9 psi) or below", "1.0 s", "it wears in seconds", "no", "Stop the pump."}},
			GoesBack: "5 kPa inside", GoesBackWhy: "a hose comes and goes", Applies: "running", Suppressed: "stopped", Over: []string{"Flow against need", "Own normal"}, Source: "invented",
		}},
		Sensors: HandbookSensors{Cause: "A wire is off.", Consequence: "Nobody watches.", Response: "Look yourself.", Delay: "3.0 s", GoesBack: "5.0 s",
			Rows: []HandbookStage{{Title: "Flow: sensor can't be trusted", Level: "Warning"}}},
	}
}

func testOptions() Options {
	return Options{MachineName: "Trailer 1 (demo)", Units: units.SI, Version: "0.0-test", Limits: testLimits(),
		Now: func() time.Time { return noon.Add(100 * time.Millisecond) }, AllowedHosts: []string{"jetter.example"}, Handbook: testHandbook(),
		Acts: func(context.Context, ActRequest) (engine.Did, error) { return engine.Did{}, ErrNotNow }}
}
