package bench

import (
	"fmt"
	"strings"
	"time"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

// Setup is what a session begins with.
type Setup struct {
	Pump        Pump
	Instruments []Instrument
	Limits      []Limit
	Plan        Plan
	Who, Where  string
	Source      string
	AltitudeM   float64
	BoreM       float64
	// HandsOff is set where nobody is there to say that a step is ready, as
	// with a recording: a step without a target then begins when the readings
	// have moved since the last point, and what a person would tell is skipped.
	HandsOff bool
	// Began names the test.
	Began time.Time
}

// Session leads through one test. It is fed frames and acts and holds no
// clock; it isn't safe for use by several goroutines.
type Session struct {
	rec      Record
	handsOff bool
	// halted is set while a test that was cut off waits for a person's GoOn.
	halted bool
	win    window
	now    Input
	// ready is a person's word that the step is set; moved that the readings
	// left the last point.
	ready, moved bool
	// turned is set when the inlet's valve has moved, by the newest means.
	turned      bool
	inlet, flow meanNow
	last        *Point
	judged      time.Duration
	met         bool
	why         string
}

// InputOf takes a frame out of the engine's verdicts.
func InputOf(v *engine.Verdicts, wall time.Time) Input {
	return Input{T: v.T, Wall: wall, Samples: v.Samples}
}

// NewSession begins a test. The error names what is missing.
func NewSession(s Setup) (*Session, error) {
	switch {
	case strings.TrimSpace(s.Who) == "":
		return nil, fmt.Errorf("a test needs the name of who does it")
	case len(s.Plan.Steps) == 0:
		return nil, fmt.Errorf("a test needs a plan with steps")
	case !(s.Pump.DisplacementM3 > 0 && s.Pump.SpeedHz > 0 && s.Pump.PressurePa > 0 && s.Pump.FlowM3s > 0):
		return nil, fmt.Errorf("the plate of %q lacks flow, speed, pressure or displacement", s.Pump.Name)
	case s.Began.IsZero():
		return nil, fmt.Errorf("a test needs the time when it began")
	}
	r := &Session{handsOff: s.HandsOff, rec: Record{
		Version: recordVersion, ID: testID(s.Began, s.Pump), Pump: s.Pump, Instruments: s.Instruments, Limits: s.Limits,
		Plan: s.Plan, Who: s.Who, Where: s.Where, Source: s.Source, AltitudeM: s.AltitudeM, BoreM: s.BoreM,
		Began: s.Began.UTC().Truncate(time.Second), State: Running,
	}}
	r.enter()
	return r, nil
}

// testID is the date, the time and the pump's name, as a file's name.
func testID(at time.Time, p Pump) string {
	name := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			return r
		case r >= 'A' && r <= 'Z':
			return r + 'a' - 'A'
		}
		return '-'
	}, p.Name+" "+p.Serial)
	for strings.Contains(name, "--") {
		name = strings.ReplaceAll(name, "--", "-")
	}
	name = strings.Trim(name, "-")
	return at.UTC().Format("20060102-150405-") + strings.Trim(name[:min(len(name), 60)], "-")
}

// Reopen takes up a test that was interrupted, without anybody's word: it shows
// where it stands, takes no point and no value, and leaves the record as it is
// until GoOn. The pump may be at work in the field by now, and its readings are
// none of the test's. A test that is complete or aborted isn't gone on with.
func Reopen(r *Record) (*Session, error) {
	if r.State != Running {
		return nil, fmt.Errorf("the test %s is %s and can't be gone on with: begin a new one", r.ID, r.State)
	}
	return &Session{rec: *r, halted: true, why: waitsForGoOn}, nil
}

// waitsForGoOn is what a reopened test waits for.
const waitsForGoOn = "the test was cut off and waits: say that it goes on once the pump stands on the bench as this step asks"

// Resume goes on with a test that was interrupted, at the word of whoever calls
// it; why says how. A test that is complete or aborted isn't gone on with.
// Frames may come from a clock that began anew.
func Resume(r *Record, handsOff bool, why string, wall time.Time) (*Session, error) {
	s, err := Reopen(r)
	if err != nil {
		return nil, err
	}
	s.handsOff = handsOff
	return s, s.GoOn(why, wall)
}

// Halted reports whether a test that was cut off waits for GoOn.
func (s *Session) Halted() bool { return s.halted && !s.Done() }

// GoOn is a person's word that a test that was cut off goes on; why says how it
// was cut off. The break stays on record.
func (s *Session) GoOn(why string, wall time.Time) error {
	if !s.Halted() {
		return fmt.Errorf("the test is under way already: nothing waits for that word")
	}
	s.rec.Breaks = append(append([]Gap(nil), s.rec.Breaks...), Gap{Step: s.stepID(), Why: why, Wall: wall})
	s.halted, s.why, s.now.Wall = false, "", wall
	s.enter()
	return nil
}

// Record returns a copy of the test so far, to be kept.
func (s *Session) Record() *Record {
	r := s.rec
	return &r
}

// Done reports whether the test has ended, complete or not.
func (s *Session) Done() bool { return s.rec.State != Running }

// Step returns the step that is under way; ok is false when none is.
func (s *Session) Step() (step Step, ok bool) {
	if s.Done() || s.rec.Next >= len(s.rec.Plan.Steps) {
		return Step{}, false
	}
	return s.rec.Plan.Steps[s.rec.Next], true
}

func (s *Session) stepID() string {
	step, _ := s.Step()
	return step.ID
}

// enter prepares for the step that Next names.
func (s *Session) enter() {
	s.win.clear()
	s.ready, s.moved, s.met, s.judged = false, false, false, 0
	s.turned, s.inlet, s.flow = false, meanNow{}, meanNow{}
	if step, ok := s.Step(); ok && s.handsOff && step.Kind.entered() {
		s.skip("nobody was there to tell it")
	}
}

func (s *Session) advance() {
	s.rec.Next++
	if s.rec.Next >= len(s.rec.Plan.Steps) {
		s.rec.State, s.rec.Ended = Complete, s.now.Wall
		return
	}
	s.enter()
}

// Feed takes one frame and reports whether the record has changed, so that it
// must be kept.
func (s *Session) Feed(in Input) (changed bool) {
	step, ok := s.Step()
	if !ok {
		return false
	}
	s.now = in
	if s.halted {
		s.why = waitsForGoOn
		return false
	}
	if step.Kind.entered() {
		s.why = "waiting for the value to be entered"
		return false
	}
	s.noteMoved()
	met, why := s.condition(step)
	if !met {
		cut := s.met && step.Kind == Leak && s.win.full(5*time.Second)
		s.met, s.why = false, why
		if cut {
			return s.take(step, false)
		}
		s.win.clear()
		return false
	}
	s.met = true
	length := seconds(step.WindowS)
	s.win.add(&in, length)
	if !s.win.full(length) {
		s.why = "collecting readings"
		return false
	}
	if s.judged != 0 && in.T-s.judged < time.Second && in.T > s.judged {
		return false
	}
	s.judged = in.T
	if s.why = s.unsteady(step); s.why != "" {
		return false
	}
	return s.take(step, false)
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// take makes a point of the window and goes on.
func (s *Session) take(step Step, asItIs bool) bool {
	lo := s.win.last(seconds(step.WindowS))
	p := Point{
		Step: step.ID, Kind: step.Kind, From: s.win.t[lo], To: s.win.t[len(s.win.t)-1],
		Wall: s.now.Wall, Readings: s.win.readings(lo), AsItIs: asItIs,
	}
	// Records handed out must not see later points.
	s.rec.Points = append(append([]Point(nil), s.rec.Points...), p)
	s.last = &p
	if step.Kind == Inlet && !s.rec.inletFell() && len(s.rec.of(Inlet)) < s.rec.Plan.MaxInlet {
		s.enter()
		return true
	}
	s.advance()
	return true
}

// noteMoved sees whether the readings left the last point.
func (s *Session) noteMoved() {
	if s.last == nil || s.moved {
		s.moved = true
		return
	}
	for _, c := range []frame.Channel{frame.OutletPressure, frame.InletPressure, frame.Flow, frame.ShaftSpeed} {
		r, ok := s.last.Find(c)
		if ok && s.now.Samples[c].OK() && abs(s.now.Samples[c].Value-r.Mean) > max(0.03*abs(r.Mean), 6*r.Spread) {
			s.moved = true
		}
	}
}

func abs(x float64) float64 { return max(x, -x) }
