// Package cord tells what an extension cord does to the motor at its end: the
// resistance of its conductors, the voltage lost on the way, what the motor
// sees, and how long the cord may be for a given loss.
//
// It owns the conductor tables (AWG by NFPA 70, chapter 9, table 8; square
// millimetres by IEC 60228, class 5), their correction for temperature, and
// NFPA 70's table 400.5(A)(1) of cord ampacity as a note. It treats the circuit
// as two conductors of pure resistance carrying a current in phase with the
// voltage (power factor 1): the reactance of small conductors is small beside
// their resistance, and a lagging current loses less voltage in a resistance,
// so for a motor the loss is told on the high side. It refuses plugs, worn
// contacts, the wiring of the building and anything three-phase; a cord that
// is warm at its plug is bad whatever this package computes. Local code
// decides.
package cord
