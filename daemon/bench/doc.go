// Package bench proves a plunger pump after a rebuild: it leads a person
// through a test, takes a point when the readings are shown to be steady, and
// says how good the pump is against its plate and against itself before, each
// figure with its uncertainty.
//
// It owns the library of pumps, instruments and limits, the plan, the session
// as a state machine fed by the engine's frames, the record of a test with its
// hash, the figures made from it, acceptance and comparison. It refuses to
// extrapolate beyond the points that were taken, to show a test that wasn't
// finished as a whole one, to give a verdict where the uncertainty covers the
// limit or where an instrument contradicts itself, and to apply the standards
// for rotodynamic pumps, ISO 9906 among them, to a plunger pump on its own.
//
// A test that was cut off and is taken up by a program by itself waits for a
// person's word, and takes nothing till then.
//
// The session knows no clock and no sensor: live sensors, a simulator and a
// recording feed it alike. Everything is SI inside. An aid to judgement and no
// certified test; local codes and licensed practice come first.
//
// How errors are modelled: an instrument has a zero error, the same at every
// reading, and a gain error, the same share of every reading, each anywhere
// within its limits; beside them the scatter of each point's mean, and the
// resolution where the scatter doesn't hide it. The first two are one and the
// same error in every point of a test, so they cancel in part from slopes and
// from the difference of two tests. Sources: JCGM 100:2008 (combination),
// JCGM 106:2012 (decision), package rules/gum.
package bench
