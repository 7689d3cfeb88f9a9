// Package machine derives what the jetter is doing from its channels alone:
// stopped, water on, starting, running, bypassing, stopping, or unknown. Nobody
// presses a button for it, so it can't be forgotten. It is a pure step over a
// small state; it raises no alarm and knows no limit of the rules.
package machine

import "time"

// State is what the machine is doing.
type State uint8

// The states.
const (
	// Unknown means that no channel that could tell is good.
	Unknown State = iota
	// Stopped: pump not turning, no water flowing.
	Stopped
	// WaterOn: pump not turning, water flowing through it (purging).
	WaterOn
	// Starting: the first seconds after the pump began to turn.
	Starting
	// Running: pump turning and working into the hose, or trying to.
	Running
	// Bypassing: pump turning, outlet closed, water going round.
	Bypassing
	// Stopping: the first seconds after the pump ceased to turn.
	Stopping

	// NumStates is the number of states.
	NumStates
)

var names = [NumStates]string{"unknown", "stopped", "water_on", "starting", "running", "bypassing", "stopping"}

var words = [NumStates]string{"state unknown", "stopped", "water on (purging)", "starting", "running", "bypassing", "stopping"}

// String returns the state as it stands in recordings and metrics.
func (s State) String() string {
	if s >= NumStates {
		return "unknown"
	}
	return names[s]
}

// Words returns the state for people.
func (s State) Words() string {
	if s >= NumStates {
		return words[Unknown]
	}
	return words[s]
}

// Turning reports whether the pump turns in this state.
func (s State) Turning() bool { return s == Starting || s == Running || s == Bypassing }

// Set is a set of states, for rules that apply only in some.
type Set uint16

// In makes a set.
func In(states ...State) Set {
	var m Set
	for _, s := range states {
		m |= 1 << s
	}
	return m
}

// Has reports whether the set holds s.
func (m Set) Has(s State) bool { return m&(1<<s) != 0 }

// All is every state but Unknown.
const All = Set(1<<NumStates-1) &^ 1

// Tri is yes, no, or cannot tell.
type Tri uint8

// The three answers.
const (
	CannotTell Tri = iota
	No
	Yes
)

// Inputs is what one frame tells about the machine.
type Inputs struct {
	// Turning: is the pump turning.
	Turning Tri
	// Flowing: is more than a trickle drawn from the supply.
	Flowing Tri
	// InletFed: is there pressure at the inlet, so that no flow means a closed
	// outlet and not a closed supply.
	InletFed Tri
	// TriggerOpen: foot pedal or trigger lets water out.
	TriggerOpen Tri
	// OutletHeld: does the outlet hold pressure above the inlet's, as a closed
	// one does before a turning pump.
	OutletHeld Tri
}

// Config holds the times of the state machine.
type Config struct {
	// StartTime is how long a start may take before the machine counts as
	// running; inrush and the filling of the hose fall into it.
	StartTime time.Duration
	// StopTime is how long the machine counts as stopping.
	StopTime time.Duration
	// BypassAfter is how long the outlet must look closed before the machine
	// counts as bypassing, so that a stutter of the flow meter is not bypass.
	BypassAfter time.Duration
	// Hold is how long the last answer about the outlet counts while its
	// channel gives none: no shorter than the channels' readings may be old.
	Hold time.Duration
}

// Memory is the state machine's memory between frames. The zero value is a
// machine of which nothing is known yet.
type Memory struct {
	State State
	// Since is when the state began.
	Since time.Duration
	// closedSince is when the outlet began to look closed; valid if closed. It
	// moves along with the time in which nothing could tell, and so does
	// bypassSince, valid if bypassed: such time neither counts nor starts anew.
	closedSince, bypassSince time.Duration
	closed, bypassed         bool
	// unsure is true while nothing can tell whether the outlet is still closed.
	unsure bool
	// openedAt is when it ceased to; valid if opened.
	openedAt time.Duration
	opened   bool
	// turned is the last answer about the pump that was one.
	turned bool
	last   time.Duration

	flowing, fed, trigger, held answer
}

// answer is the last that a channel said, and when.
type answer struct {
	is Tri
	at time.Duration
}

// hold notes an answer, and gives the last one where there is none for no
// longer than d.
func (a *answer) hold(is Tri, t, d time.Duration) Tri {
	switch {
	case is != CannotTell:
		a.is, a.at = is, t
	case a.is != CannotTell && t-a.at <= d:
		return a.is
	}
	return is
}

// Step advances the state machine to the time t.
func Step(m *Memory, c *Config, in Inputs, t time.Duration) State {
	in.Flowing = m.flowing.hold(in.Flowing, t, c.Hold)
	in.InletFed = m.fed.hold(in.InletFed, t, c.Hold)
	in.TriggerOpen = m.trigger.hold(in.TriggerOpen, t, c.Hold)
	in.OutletHeld = m.held.hold(in.OutletHeld, t, c.Hold)
	if in.Turning != CannotTell {
		m.turned = in.Turning == Yes
	}
	m.noteOutlet(in, t)
	if next := m.next(c, in, t); next != m.State {
		m.State, m.Since = next, t
		if next == Bypassing && m.bypassed {
			m.Since = m.bypassSince // it goes on and doesn't begin
		}
	}
	m.noteBypass(t)
	m.last = t
	return m.State
}

// outletClosed tells whether no flow means a closed outlet. An open trigger
// is no closed outlet, unless the pressure shows that something else, like a
// clogged nozzle, closes it; without pressure a pump that gives nothing has
// lost its water. Without a trigger's switch low pressure shows nothing: an
// unloader that dumps leaves none while the outlet is closed. Where nothing can
// tell, the machine counts as running and the no-flow rule speaks, which is the
// safe side; but what is not seen is not taken for an open outlet either.
func (m *Memory) outletClosed(in Inputs) Tri {
	switch {
	case in.TriggerOpen == No:
		return Yes
	case in.Flowing == Yes:
		return No
	case in.TriggerOpen == Yes:
		return m.cloggedOutlet(in)
	case in.Flowing == No && in.InletFed == Yes:
		return Yes
	case in.Flowing == No && in.InletFed == No && m.trigger.is != No:
		return No
	}
	return CannotTell
}

// cloggedOutlet is the answer where the trigger is open and nothing is seen to
// flow.
func (m *Memory) cloggedOutlet(in Inputs) Tri {
	switch {
	case in.OutletHeld == No || m.held.is != Yes || in.InletFed == No:
		return No
	case in.OutletHeld == Yes && in.Flowing == No && in.InletFed == Yes:
		return Yes
	}
	return CannotTell
}

// closingExtra is how long beyond BypassAfter a closing outlet may take: the
// flow meter counts for a while what no longer flows.
const closingExtra = 2 * time.Second

// Closing reports whether the outlet has just closed, so that flow and
// pressure are on their way and say nothing of supply, nozzle or pump.
func (m *Memory) Closing(c *Config, t time.Duration) bool {
	return m.closed && !m.unsure && t-m.closedSince < c.BypassAfter+closingExtra
}

// Settled reports whether state and outlet have been what they are for at least
// d, so that flow and pressure no longer are on their way.
func (m *Memory) Settled(t, d time.Duration) bool {
	return t-m.Since >= d && m.OutletSettled(t, d)
}

// OutletSettled reports whether the outlet has not been seen closed for at
// least d, whatever the state was.
func (m *Memory) OutletSettled(t, d time.Duration) bool {
	return (!m.closed || m.unsure) && !(m.opened && t-m.openedAt < d)
}

// Moving reports whether the outlet has closed or opened, or the state has
// changed, within d: what is measured then steps, and its way says nothing of
// where it goes.
func (m *Memory) Moving(t, d time.Duration) bool {
	return t-m.Since < d || m.closed && !m.unsure && t-m.closedSince < d || m.opened && t-m.openedAt < d
}

// Turned reports whether the pump turned when that could last be told.
func (m *Memory) Turned() bool { return m.turned }

// Bypassed reports whether the machine bypasses, or did when that could last
// be told, and since when, less the time in which it couldn't.
func (m *Memory) Bypassed() (since time.Duration, ok bool) { return m.bypassSince, m.bypassed }

// noteOutlet times the closed outlet. Only what shows an open outlet or a
// standing pump ends the time.
func (m *Memory) noteOutlet(in Inputs, t time.Duration) {
	closed := m.outletClosed(in)
	wasUnsure := m.unsure
	m.unsure = false
	switch {
	case in.Turning == No || closed == No:
		if m.closed && !wasUnsure {
			m.openedAt, m.opened = t, true
		}
		m.closed = false
	case in.Turning == Yes && closed == Yes:
		if !m.closed {
			m.closedSince = t
		}
		m.closed = true
	case m.closed:
		m.unsure = true
		m.closedSince += t - m.last
		if !wasUnsure {
			m.openedAt, m.opened = t, true
		}
	}
}

// noteBypass times the bypass.
func (m *Memory) noteBypass(t time.Duration) {
	switch {
	case m.State == Bypassing && !m.bypassed:
		m.bypassed, m.bypassSince = true, t
	case m.State == Bypassing:
	case m.bypassed && m.unsure:
		m.bypassSince += t - m.last
	default:
		m.bypassed = false
	}
}

func (m *Memory) next(c *Config, in Inputs, t time.Duration) State {
	switch in.Turning {
	case CannotTell:
		return Unknown
	case Yes:
		return m.nextTurning(c, in, t)
	}
	still := Stopped
	if in.Flowing == Yes {
		still = WaterOn
	}
	if m.State.Turning() || m.State == Stopping && t-m.Since < c.StopTime {
		return Stopping
	}
	return still
}

func (m *Memory) nextTurning(c *Config, in Inputs, t time.Duration) State {
	switch {
	case !m.State.Turning() && m.State != Unknown:
		return Starting
	case m.State == Starting && t-m.Since < c.StartTime:
		return Starting
	case m.closed && !m.unsure && in.Flowing != Yes && t-m.closedSince >= c.BypassAfter:
		return Bypassing
	}
	// A machine that was already turning when we began to look is running.
	return Running
}
