// Package engine is the one place where frames become verdicts. A step is a
// pure, deterministic function: (state, frame, monotonic time) in, the same
// state advanced and the verdicts out. It does no I/O, reads no clock, starts
// no goroutine, ranges over no map and allocates nothing, so that live
// sensors, the simulator, a recorded file and a what-if replay all get the
// same alarms from the same frames, byte for byte, on every board.
//
// It owns the order of a step (condition the samples, tell the machine's
// state, compute the physics, judge each rule, time each alarm, add up the
// exposures) and the rules themselves, one small file each. It refuses words
// for people (rules/words), units other than SI (rules/units) and everything
// about where frames come from (sensors) or go to (daemon).
package engine
