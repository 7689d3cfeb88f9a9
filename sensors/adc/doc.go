// Package adc reads 16-bit I2C converters of the ADS1115 kind, up to four on
// one bus, and turns their inputs into the channels' values with
// sensors/convert. It owns the chip's registers, the schedule of conversions
// on the bus, the proof at New that the schedule fits, and the block sampling
// of a current transformer or of a pulsating pressure.
//
// All chips of one bus are read by one goroutine, which works as a scheduler:
// each chip is a small state machine that asks for one short transfer at a
// time, so that the chips convert side by side and a chip that is being
// sampled fast is never kept waiting. An input that shares its chip is read in
// single-shot mode, since a multiplexer switched in continuous mode still gives
// the old input for a conversion or two. Every conversion reads the config
// register back, which shows both that the conversion has ended and that the
// chip hasn't lost its settings to a dip of its supply.
//
// It refuses to pass on a code at the end of the range, a conversion that
// never ends, or a block sampled unevenly: these are faults with a reason. It
// knows no bus by name, opens none and closes none. The transfer runs in a
// goroutine of its own with a time limit; one that hangs is abandoned, and no
// other is begun on the bus until it has come back.
//
// Raising an input's range doesn't raise what its pin survives: no pin may go
// above the chip's own supply, whatever the range. Sources: the data sheet of
// the ADS1115 (SBAS444) for registers and times, from memory where the
// reference tables don't have it.
package adc
