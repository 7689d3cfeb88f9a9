// Package plant is a model of the physics of a drain-cleaning jetter and what
// feeds it: tap, hose, filter, plunger pump, unloader, high-pressure hose,
// nozzle, motor, cord and breaker. It exists so that the whole program can be
// tried, and its rules be tested, with causes (a kinked hose) instead of drawn
// curves (a falling pressure).
//
// It owns a state, a pure step over it, and a ledger that shows at every step
// that neither water nor energy came from nowhere. It refuses to know clocks,
// goroutines, chance, sensors and limits: noise and wires belong to the
// simulator, limits and alarms to the rules. It shares no formula with rules/
// either, so that a mistake there can't hide behind the same mistake here; a
// test compares the two.
//
// The machine of Typical is invented. Where the model needs a figure that no
// handbook gives, the comment says "common practice, no source". Results are
// the same from run to run on one kind of processor; across kinds the last
// bits may differ.
//
// What is left out: water hammer and the strokes of the single plungers (the
// step is longer than both), steam, ice, the change of density with
// temperature (0.2 to 1.7 percent), the return of air into a hose under
// vacuum, and the auxiliary winding of the motor.
package plant
