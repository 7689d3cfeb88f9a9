package bench

import (
	"fmt"
	"math"

	"headroom/rules/frame"
	"headroom/rules/steady"
	"headroom/rules/units"
)

// Shares of the plate by which the state of the machine is told. Common
// practice, no source.
const (
	// turningShare of the plate's speed counts as turning.
	turningShare = 0.3
	// flowingShare of the plate's flow counts as flowing.
	flowingShare = 0.2
	// heldShare of the plate's pressure counts as pressure on a closed outlet.
	heldShare = 0.1
	// openShare of the plate's pressure is the most with the outlet open.
	openShare = 0.2
)

// value returns a channel's present value.
func (s *Session) value(c frame.Channel) (v float64, ok bool) {
	m := s.now.Samples[c]
	return m.Value, m.OK()
}

// turning tells from speed, or else from current, whether the pump turns.
func (s *Session) turning() (yes, known bool) {
	if n, ok := s.value(frame.ShaftSpeed); ok {
		return n > turningShare*s.rec.Pump.SpeedHz, true
	}
	if i, ok := s.value(frame.MotorCurrent); ok && s.rec.Pump.MotorA > 0 {
		return i > 0.1*s.rec.Pump.MotorA, true
	}
	return false, false
}

// condition reports whether the machine is in the state that the step asks
// for, and if not, what is missing.
func (s *Session) condition(step Step) (met bool, why string) {
	for _, c := range step.needs() {
		if m := s.now.Samples[c]; !m.OK() {
			return false, "no good reading of " + c.Label() + ": " + m.Status.Words()
		}
	}
	turns, known := s.turning()
	if !known {
		return false, "neither shaft speed nor motor current says whether the pump turns"
	}
	standing := step.Kind == Rest || step.Kind == Leak
	switch {
	case standing && turns:
		return false, "the pump is turning"
	case !standing && !turns:
		return false, "the pump isn't turning"
	}
	return s.conditionOfWater(step)
}

// conditionOfWater is the part about pressures and flow.
func (s *Session) conditionOfWater(step Step) (met bool, why string) {
	p, _ := s.value(frame.OutletPressure)
	q, flowKnown := s.value(frame.Flow)
	flows := q > flowingShare*s.rec.Pump.FlowM3s
	plate := s.rec.Pump.PressurePa
	switch step.Kind {
	case Rest:
		return !flowKnown || !flows, "water is flowing"
	case NoLoad:
		return flows && p < openShare*plate, "the outlet is not wide open, or no water flows"
	case Load, Unloader, Speed:
		return s.onTarget(step, p, flows)
	case Own:
		if !s.ready && !(s.handsOff && s.moved) {
			return false, "waiting for the word that the step is ready"
		}
		return flows && p > heldShare*plate, "no water flows, or no pressure stands"
	case Relief, Bypass:
		return flowKnown && !flows && p > heldShare*plate, "the outlet is not closed, or its pressure has gone"
	case Leak:
		return p > heldShare*plate, "no pressure stands on the outlet"
	case Inlet:
		return s.onInlet(p, flows)
	}
	return false, "this step needs no readings"
}

func (s *Session) onTarget(step Step, p float64, flows bool) (met bool, why string) {
	if n, ok := s.value(frame.ShaftSpeed); step.TargetHz > 0 && !(ok && abs(n-step.TargetHz) <= step.BandHz) {
		return false, "the shaft's speed is not at its target"
	}
	if abs(p-step.TargetPa) > step.BandPa {
		return false, fmt.Sprintf("the outlet is at %s and shall be at %s", both(units.Pressure, p), both(units.Pressure, step.TargetPa))
	}
	return flows, "no water flows"
}

// inletStep is the least change of inlet pressure from one position of the
// inlet valve to the next, in Pa. Common practice, no source.
const inletStep = 1.5e3

// inletFlowStep is the least change of flow that does as well, as a share of
// the plate's: once vapour fills the cylinders the flow falls and the pressure
// hardly does. Common practice, no source.
const inletFlowStep = 0.004

// inletFrames is over how many frames that is averaged, so that noise doesn't
// pass for a turn of the valve.
const inletFrames = 10

// onInlet wants the outlet near three quarters of plate pressure, and the inlet
// valve moved since the last point.
func (s *Session) onInlet(p float64, flows bool) (met bool, why string) {
	plate := s.rec.Pump.PressurePa
	if !flows || abs(p-0.75*plate) > 0.08*plate {
		return false, "the outlet is not at three quarters of plate pressure"
	}
	n := len(s.rec.of(Inlet))
	if n == 0 || s.turned {
		return true, ""
	}
	last := s.rec.of(Inlet)[n-1]
	s.inlet.add(s.now.Samples[frame.InletPressure].Value)
	s.flow.add(s.now.Samples[frame.Flow].Value)
	offPa, needPa, inletTurned := s.inlet.turned(last, frame.InletPressure, inletStep)
	offM3s, needM3s, flowTurned := s.flow.turned(last, frame.Flow, inletFlowStep*s.rec.Pump.FlowM3s)
	s.turned = inletTurned || flowTurned
	return s.turned, fmt.Sprintf("the valve stands too near the last point. Inlet moved by %s, wanted %s; or flow moved by %s, wanted %s",
		both(units.Pressure, offPa), both(units.Pressure, needPa), both(units.FlowRate, offM3s), both(units.FlowRate, needM3s))
}

// meanNow is the mean of the newest inletFrames readings that are complete; it
// stands still while the next ones come.
type meanNow struct {
	sum, mean float64
	n         int
	known     bool
}

func (m *meanNow) add(x float64) {
	m.sum, m.n = m.sum+x, m.n+1
	if m.n == inletFrames {
		*m = meanNow{mean: m.sum / inletFrames, known: true}
	}
}

// turned tells how far the mean is from the last point's, and how far it must
// be: the least step, or what three standard deviations of such a mean make out
// where that is more.
func (m *meanNow) turned(last *Point, c frame.Channel, least float64) (off, need float64, yes bool) {
	r, ok := last.Find(c)
	if !ok {
		return 0, least, false
	}
	worth := max(1, r.Effective*inletFrames/float64(max(r.N, 1)))
	need = max(least, 3*r.Spread/math.Sqrt(worth))
	if m.known {
		off = abs(m.mean - r.Mean)
	}
	return off, need, m.known && off >= need
}

// tolerance is how far a channel may drift over a window, in its unit. Common
// practice, no source.
func (s *Session) tolerance(c frame.Channel) float64 {
	p := &s.rec.Pump
	switch c {
	case frame.Flow:
		return 0.01 * p.FlowM3s
	case frame.OutletPressure:
		return 0.01 * p.PressurePa
	case frame.ShaftSpeed:
		return 0.004 * p.SpeedHz
	case frame.InletPressure:
		return 4e3
	case frame.MotorCurrent:
		return 0.02 * max(p.MotorA, 5)
	}
	return 0
}

// tested lists the channels whose rest decides about a step.
func tested(k Kind) []frame.Channel {
	switch k {
	case Rest, Relief:
		return []frame.Channel{frame.OutletPressure}
	case Leak, Bypass:
		return nil // their drift is what is sought
	case Inlet:
		return []frame.Channel{frame.Flow, frame.OutletPressure, frame.ShaftSpeed, frame.InletPressure}
	}
	return []frame.Channel{frame.Flow, frame.OutletPressure, frame.ShaftSpeed, frame.MotorCurrent}
}

// unsteady says why the window can't be taken yet; empty when it can.
func (s *Session) unsteady(step Step) string {
	lo := s.win.last(seconds(step.WindowS))
	for _, c := range step.needs() {
		if !s.win.good(c, lo) {
			return c.Label() + " was not good all the time"
		}
	}
	for _, c := range tested(step.Kind) {
		if !s.win.good(c, lo) {
			continue
		}
		v := steady.Test{Tolerance: s.tolerance(c)}.Judge(s.win.x[c][lo:])
		if !v.OK() {
			return c.Label() + ": " + v.Reason.String()
		}
	}
	return ""
}
