package motor

import (
	"fmt"
	"math"
)

// Phase is what the current says the motor does.
type Phase uint8

// The phases.
const (
	// PhaseUnknown: the last current reading was out of range.
	PhaseUnknown Phase = iota
	// PhaseStopped: switched off.
	PhaseStopped
	// PhaseNoCurrent: switched on, yet it draws nothing: an open breaker,
	// protector, capacitor or wire.
	PhaseNoCurrent
	// PhaseStarting: inrush within the start time.
	PhaseStarting
	// PhaseRunning: up to speed.
	PhaseRunning
	// PhaseLongStart: the start time is over and the current is still above
	// the running level, below the jam level: low voltage, pressure trapped
	// against the pump, or a failing start circuit.
	PhaseLongStart
	// PhaseLockedRotor: the start time is over and the current never fell from
	// the jam level.
	PhaseLockedRotor
	// PhaseJam: it ran and then stayed above the jam level.
	PhaseJam
)

// String returns the phase as an identifier, not as text for the user.
func (p Phase) String() string {
	switch p {
	case PhaseStopped:
		return "stopped"
	case PhaseNoCurrent:
		return "no-current"
	case PhaseStarting:
		return "starting"
	case PhaseRunning:
		return "running"
	case PhaseLongStart:
		return "long-start"
	case PhaseLockedRotor:
		return "locked-rotor"
	case PhaseJam:
		return "jam"
	}
	return "unknown"
}

// StartConfig sets the levels and times. DefaultStart gives common values.
type StartConfig struct {
	// RatedA is the nameplate's full-load current in amperes, 0.1 to 1000.
	RatedA float64
	// RunMultiple times RatedA ends a start, JamMultiple times RatedA is a
	// jam; 1 < RunMultiple < JamMultiple <= 20.
	RunMultiple, JamMultiple float64
	// StartS is the longest normal start in seconds, 0.1 to 60.
	StartS float64
	// JamDelayS is how long in seconds a running motor must stay above the jam
	// level, 0 to 60.
	JamDelayS float64
}

// DefaultStart returns the settings for a rated current: start over below 1.5,
// jam above 3 times the rated current, 3 s to start, 0.5 s for a jam.
// Source: common practice, no source.
func DefaultStart(ratedA float64) StartConfig {
	return StartConfig{RatedA: ratedA, RunMultiple: 1.5, JamMultiple: 3, StartS: 3, JamDelayS: 0.5}
}

// Start is the checked configuration. Make it with NewStart; the zero value
// answers ok=false.
type Start struct{ stopA, runA, jamA, startS, jamDelayS float64 }

// NewStart checks the configuration. The error says which value is out of
// range and what to set.
func NewStart(c StartConfig) (Start, error) {
	switch {
	case !inRange(c.RatedA, 0.1, 1000):
		return Start{}, fmt.Errorf("cannot watch the start of a motor of %g A: set a rated current of 0.1 to 1000 A", c.RatedA)
	case !(c.RunMultiple > 1 && c.RunMultiple < c.JamMultiple && c.JamMultiple <= 20):
		return Start{}, fmt.Errorf("cannot tell a start from a jam with levels of %g and %g times the rated current: set the first above 1 and the second above it, up to 20",
			c.RunMultiple, c.JamMultiple)
	case !inRange(c.StartS, 0.1, 60):
		return Start{}, fmt.Errorf("cannot take %g s as the longest start: set 0.1 to 60 s", c.StartS)
	case !inRange(c.JamDelayS, 0, 60):
		return Start{}, fmt.Errorf("cannot take %g s as the delay of a jam: set 0 to 60 s", c.JamDelayS)
	}
	return Start{
		stopA: float64(StoppedShare * c.RatedA), runA: float64(c.RunMultiple * c.RatedA),
		jamA: float64(c.JamMultiple * c.RatedA), startS: c.StartS, jamDelayS: c.JamDelayS,
	}, nil
}

// StartState is the state machine's memory. The zero value knows nothing yet.
type StartState struct {
	Phase Phase
	// ElapsedS is the time since the present start began, in seconds; it
	// stands still once the motor runs.
	ElapsedS float64
	// PeakA is the highest current of the present or last start in amperes.
	PeakA float64
	// LastStartS is how long the last completed start took in seconds, 0
	// before the first; a trend of it tells low voltage or wear.
	LastStartS float64
	// AboveS is how long a running motor has been above the jam level.
	AboveS float64
}

// maxCurrentA and maxStepS keep nonsense out.
const (
	maxCurrentA = 1e6
	maxStepS    = 86400.0
)

// Step advances the state by dtS seconds, at whose end the RMS current is
// currentA amperes. running is true while the motor is switched on; where no
// contact tells, pass whether currentA is at least StoppedShare of the rated
// current. Range: currentA 0 to 1e6 A, dtS 0 to 86400 s. An input out of range gives PhaseUnknown and
// ok=false; the next good reading of a motor switched on is judged as a new
// start, so a jam behind a gap is told at most one start time late. It does
// not allocate. Times are told to within one dtS.
func (c Start) Step(s StartState, currentA, dtS float64, running bool) (StartState, bool) {
	if !(c.jamA > 0) || !inRange(currentA, 0, maxCurrentA) || !inRange(dtS, 0, maxStepS) {
		return StartState{Phase: PhaseUnknown, LastStartS: s.LastStartS}, false
	}
	switch {
	case !running:
		return s.to(PhaseStopped), true
	case currentA < c.stopA:
		return s.to(PhaseNoCurrent), true
	}
	switch s.Phase {
	case PhaseStarting, PhaseLongStart, PhaseLockedRotor:
		s.ElapsedS += dtS
		return c.starting(s, currentA), true
	case PhaseRunning, PhaseJam:
		return c.runs(s, currentA, dtS), true
	}
	return c.starting(StartState{LastStartS: s.LastStartS}, currentA), true
}

// to leaves the motor without current in a phase; the last start's figures
// stay readable.
func (s StartState) to(p Phase) StartState {
	return StartState{Phase: p, ElapsedS: s.ElapsedS, PeakA: s.PeakA, LastStartS: s.LastStartS}
}

// inrushS is how long a start without any inrush is waited for: the first
// readings of one are small where a filter or the sensor itself is slow. Common
// practice, no source.
const inrushS = 0.5

func (c Start) starting(s StartState, currentA float64) StartState {
	s.PeakA = math.Max(s.PeakA, currentA)
	switch {
	case currentA <= c.runA && (s.PeakA > c.runA || s.ElapsedS >= inrushS):
		s.Phase, s.LastStartS = PhaseRunning, s.ElapsedS
	case s.ElapsedS <= c.startS:
		s.Phase = PhaseStarting
	case currentA >= c.jamA:
		s.Phase = PhaseLockedRotor
	default:
		s.Phase = PhaseLongStart
	}
	return s
}

func (c Start) runs(s StartState, currentA, dtS float64) StartState {
	if currentA < c.jamA {
		s.Phase, s.AboveS = PhaseRunning, 0
		return s
	}
	s.AboveS += dtS
	if s.AboveS >= c.jamDelayS {
		s.Phase = PhaseJam
	}
	return s
}
