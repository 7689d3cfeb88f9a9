// Package sim is the simulator as a sensors.Driver: the plant stepped along a
// scenario, seen through sensors with noise, delay, steps and faults of their
// own. The same core runs live against a clock (Run) and as fast as the
// processor can (Advance), and gives the same readings for the same scenario
// and seed.
//
// It owns the models of the sensors and the stepping. It refuses physics
// (plant), the course of the job (scenario) and every judgement (rules).
// Readings carry the time of the measurement, which for a slow thermometer is
// earlier than the time at which it is posted.
package sim
