// Package outputs drives what stands around the machine: a beacon, a horn and
// a stop relay. It owns three things and keeps them apart: the
// patterns of lamp and horn (Pattern), the latch that decides whether the
// machine may run (Latch), and the keeper that moves the lines and drops them
// to their safe state when nobody refreshes the command (Keeper). It refuses
// to start a machine: after a stop only a person's reset closes the relay
// again, never a limit that came back, a restart of the program or a button
// that hangs. All outputs are off until they are configured.
//
// # Polarity of the stop relay
//
// EnergisedRuns is the default and the fail-safe one: the relay's coil must be
// energised for the machine to run, so a dead board, a pulled plug or a broken
// coil wire stops it. EnergisedStops keeps a machine running through all of
// these; it is for signalling into somebody else's stop circuit only.
//
// ActiveLow is something else: it says that the board energises the coil with
// a low line.
//
// # When the program dies
//
// The keeper's own goroutine drops the outputs when the tick stalls. If the
// whole process is killed, the kernel takes the lines back, and then it is the
// chip's driver that decides: some turn a freed line into an input (the relay
// drops), some leave the last level (the relay stays). Try yours: kill -9 the
// daemon and watch the relay. If it stays, use PulseEvery with a relay module
// that needs steady pulses (a retriggerable timer or charge pump), so that a
// level that stands still stops the machine whatever it is.
//
// This is an aid and no safety function: an emergency stop is wired in
// hardware, around all of this.
package outputs
