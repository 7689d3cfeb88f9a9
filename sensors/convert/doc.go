// Package convert turns the voltage at an input's terminals into an
// engineering value: pressure, temperature, current. It owns the arithmetic of
// each kind of transducer (4-20 mA over a shunt, ratiometric, voltage,
// thermistor, platinum resistor, current transformer), the band in which each
// can be believed, and the words that name a wire off or a short. Everything
// in it is a pure function of plain data: no bus, no clock, no allocation in
// Convert.
//
// It refuses to guess. A signal outside the measuring band gives a status and
// a reason and the value 0, never an extrapolated number, and where a kind of
// signal can't tell a broken wire from a true zero, its comment says so
// instead of hiding it. It doesn't correct a transducer's errors: that belongs
// to sensors/calibrate.
//
// An input protects nothing: it must be kept within the converter's supply by
// the wiring, and a current transformer's secondary must never be left open
// while its primary carries current, for the voltage there can kill.
package convert
