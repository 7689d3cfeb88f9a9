package review

import (
	"time"

	"headroom/daemon/store"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/words"
)

// AlarmLife is one alarm from its coming to its going.
type AlarmLife struct {
	// Name as it stands in recordings, Title for people.
	Name, Title string
	Level       engine.Level
	// Onset is when the condition began, Raised when the alarm came.
	Onset, Raised time.Duration
	// Gone is when the condition was gone; valid when HasGone. An alarm without
	// it still stood at the end.
	Gone    time.Duration
	HasGone bool
	// First marks the first-out, and Under names the cause that it stood under.
	First bool
	Under string
	// Machine is what the machine was doing, as recorded.
	Machine string
	// Value and Limit of a rule, SI, valid when HasValue; Status of a sensor.
	Value, Limit float64
	HasValue     bool
	Status       string
	// AckedBy is the first who acknowledged it, as typed, at Acked; valid when
	// HasAck.
	AckedBy string
	Acked   time.Duration
	HasAck  bool
}

// Rule returns the alarm's rule; ok is false for a sensor's alarm and for one
// that this version doesn't know.
func (a *AlarmLife) Rule() (r engine.RuleID, ok bool) {
	id, ok := engine.AlarmByName(a.Name)
	if !ok {
		return engine.NumRules, false
	}
	return id.Rule()
}

// Sensor returns the channel of a sensor's alarm; ok is false for any other.
func (a *AlarmLife) Sensor() (c frame.Channel, ok bool) {
	id, ok := engine.AlarmByName(a.Name)
	if !ok {
		return frame.NumChannels, false
	}
	return id.Channel()
}

// titleOf is an alarm in words; one that this version doesn't know keeps its
// name.
func titleOf(name string) string {
	if id, ok := engine.AlarmByName(name); ok {
		return words.Alarm(id).Title
	}
	return name
}

// livesOf pairs what came with what went, in the order in which it came.
func livesOf(events []store.Event, acts []store.Act) (out []AlarmLife) {
	open := map[string]int{}
	for i := range events {
		e := &events[i]
		if e.Raised {
			open[e.Alarm] = len(out)
			out = append(out, lifeOf(e))
		} else if at, ok := open[e.Alarm]; ok {
			out[at].Gone, out[at].HasGone = e.T, true
			delete(open, e.Alarm)
		}
	}
	for i := range acts {
		if acts[i].What == alarm.Acknowledge.String() {
			acknowledged(out, &acts[i], acts[i].Alarm)
			for _, name := range acts[i].With {
				acknowledged(out, &acts[i], name)
			}
		}
	}
	return out
}

func lifeOf(e *store.Event) AlarmLife {
	a := AlarmLife{
		Name: e.Alarm, Title: titleOf(e.Alarm), Level: engine.Level(e.LevelN), Onset: e.Onset, Raised: e.T,
		First: e.First, Under: e.Under, Machine: e.Machine, Status: e.Status,
	}
	if e.Value != nil && e.Limit != nil {
		a.Value, a.Limit, a.HasValue = *e.Value, *e.Limit, true
	}
	return a
}

// acknowledged gives an act to the last life that had begun of an alarm which
// it changed.
func acknowledged(lives []AlarmLife, act *store.Act, name string) {
	for i := len(lives) - 1; i >= 0; i-- {
		if a := &lives[i]; a.Name == name && a.Raised <= act.T {
			if !a.HasAck {
				a.AckedBy, a.Acked, a.HasAck = act.Who, act.T, true
			}
			return
		}
	}
}

// Channels returns the channels whose readings a rule mostly rests on, the
// first one being what a chart of the alarm shows; nil where none is its own.
func Channels(r engine.RuleID) []frame.Channel {
	if r >= engine.NumRules {
		return nil
	}
	return ruleChannels[r]
}

var ruleChannels = [engine.NumRules][]frame.Channel{
	engine.InletLow:     {frame.InletPressure},
	engine.InletHigh:    {frame.InletPressure},
	engine.WaterHot:     {frame.WaterTemp},
	engine.NPSHMargin:   {frame.InletPressure, frame.WaterTemp},
	engine.FlowShort:    {frame.Flow, frame.ShaftSpeed},
	engine.CircuitLoad:  {frame.MotorCurrent},
	engine.NoFlow:       {frame.Flow},
	engine.Bypass:       {frame.Flow},
	engine.TankLow:      {frame.TankLevel},
	engine.OutletHigh:   {frame.OutletPressure},
	engine.Cavitation:   {frame.InletPressure, frame.InletPulsation, frame.Vibration, frame.Flow},
	engine.BreakerTime:  {frame.MotorCurrent},
	engine.MotorHeat:    {frame.MotorCurrent, frame.MotorTemp},
	engine.MotorVoltage: {frame.SupplyVoltage},
	engine.StartJam:     {frame.MotorCurrent, frame.ShaftSpeed},
	engine.PowerLost:    {frame.PowerPresent, frame.Running, frame.MotorCurrent},
	engine.Discharge:    {frame.OutletPressure, frame.Flow},
	engine.Frost:        {frame.AmbientTemp},
	engine.Wear:         {frame.Flow, frame.ShaftSpeed},
}

// UnderTitle is the cause in words; empty for none.
func (a *AlarmLife) UnderTitle() string {
	if a.Under == "" {
		return ""
	}
	return titleOf(a.Under)
}
