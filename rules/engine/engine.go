package engine

import (
	"fmt"
	"math"
	"time"

	"headroom/rules/air"
	"headroom/rules/alarm"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/suction"
	"headroom/rules/trend"
	"headroom/rules/water"
)

// Engine is a machine's configuration, checked and prepared. It never changes
// and may be shared; all that moves is in a State.
type Engine struct {
	cfg   Config
	water *water.Table
	// airPa is the air pressure at the configured altitude.
	airPa   float64
	airPaOK bool
	// inletAreaM2 is the inlet's cross-section; 0 when its bore isn't known.
	inletAreaM2 float64
	npshR       suction.Required
	models      models
	// normal are the channels that the departure rule compares.
	normal []frame.Channel
	// coolVapourPa is the vapour pressure of cool water.
	coolVapourPa float64
}

// New checks the configuration and prepares an engine. The error names the
// first figure that would make it misbehave.
func New(cfg Config) (*Engine, error) {
	if err := cfg.Validate(); err != nil {
		return nil, err
	}
	e := &Engine{cfg: cfg, water: water.NewTable()}
	e.airPa, e.airPaOK = air.PressureAtGeometricPa(cfg.Machine.AltitudeM)
	b := cfg.Machine.InletBoreM
	e.inletAreaM2 = math.Pi / 4 * b * b
	for c, on := range cfg.Normal.Channels {
		if on && cfg.Signals[c].Fitted {
			e.normal = append(e.normal, frame.Channel(c))
		}
	}
	if len(e.normal) > maxNormal {
		return nil, fmt.Errorf("the normal of %d channels can't be learned, at most %d: leave some out of normal.channels", len(e.normal), maxNormal)
	}
	e.coolVapourPa, _ = water.SatPressurePa(coolK)
	if err := e.prepareNPSH(); err != nil {
		return nil, err
	}
	var err error
	e.models, err = prepare(&e.cfg)
	if err != nil {
		return nil, err
	}
	return e, nil
}

func (e *Engine) prepareNPSH() error {
	m := &e.cfg.Machine
	if m.NPSHPoints == 0 {
		return nil
	}
	pts := make([]suction.Point, m.NPSHPoints)
	for i := range pts {
		pts[i] = suction.Point{SpeedHz: m.NPSHRequired[i].SpeedHz, NPSHRM: m.NPSHRequired[i].HeadM}
	}
	var err error
	e.npshR, err = suction.NewRequired(pts)
	return err
}

// Config returns a copy of the configuration in force.
func (e *Engine) Config() Config { return e.cfg }

// State is everything the engine remembers from frame to frame. The zero value
// is a machine that was never looked at. It holds no pointer, so that a copy
// is a snapshot.
type State struct {
	started bool
	last    time.Duration
	dtS     float64
	// gapS is how long the gap before this frame was, 0 where there was none:
	// what cools or heats did so in it.
	gapS float64

	signals [frame.NumChannels]signalState
	machine machine.Memory
	derived derived
	lines   [NumRules]trend.Line
	alarms  [NumAlarms]alarm.State
	levels  [NumAlarms]Level
	lives   [NumAlarms]alarm.Life
	chatter [NumAlarms]alarm.Chatter
	flood   alarm.Flood
	// under is what an alarm stands under, noAlarm for none; called is whether
	// it called for a person after the last step.
	under  [NumAlarms]AlarmID
	called [NumAlarms]bool
	// own are consequences that stand by themselves, since nobody can know of
	// them; acked is when an alarm was last acknowledged.
	own    [NumAlarms]bool
	acked  [NumAlarms]time.Duration
	first  AlarmID
	any    bool
	normal normalState
	model  modelState
	trust  trustState
	course flowCourse
	fed    fedState
	totals Totals
	out    Verdicts
}

// Totals returns what has added up so far.
func (s *State) Totals() Totals { return s.totals }

// Step advances the state by one frame taken at the monotonic time t and
// returns the verdicts, which stay valid until the next step. A frame whose
// time does not lie after the last one is counted as rejected and changes
// nothing else.
func (e *Engine) Step(s *State, f *frame.Frame, t time.Duration) *Verdicts {
	s.out.n = 0
	if !s.advance(e, t) {
		s.totals.Rejected++
		return &s.out
	}
	e.condition(s, f, t)
	e.distrust(s, t)
	e.tellState(s, t)
	s.trust.noteRest(&s.out.Samples, s.machine.State)
	e.derive(s)
	e.follow(s)
	e.judge(s, t)
	e.timeAlarms(s, t)
	e.addUp(s)
	return &s.out
}

// advance moves time on. After a gap nothing is assumed of what happened in
// it: delays and trends start anew, and what is warm may have cooled or heated.
func (s *State) advance(e *Engine, t time.Duration) bool {
	s.out.Gap, s.gapS = false, 0
	if !s.started {
		s.started, s.last, s.dtS = true, t, 0
		if !s.any {
			s.first = noAlarm
			s.forgetCauses()
		}
		s.out.T = t
		return true
	}
	if t <= s.last {
		return false
	}
	dt := t - s.last
	s.last, s.out.T, s.dtS = t, t, dt.Seconds()
	if dt > e.cfg.MaxGap {
		s.gap()
	}
	return true
}

func (s *State) gap() {
	s.out.Gap = true
	s.gapS, s.dtS = s.dtS, 0
	s.totals.Gaps++
	s.trust.forgetTimes()
	s.course, s.fed = flowCourse{}, fedState{}
	for i := range s.lines {
		s.lines[i].Reset()
	}
	for i := range s.alarms {
		s.alarms[i].Break()
	}
	for i := range s.signals {
		s.signals[i].restart()
	}
}
