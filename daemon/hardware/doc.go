// Package hardware builds what a config describes: the drivers of the sensors,
// each with its channel's calibration, and the outputs that the tick drives.
// It owns the way from a config's words to the options of the packages below
// sensors/, the buses that are opened late and opened anew after a fault, and
// the outputs' table, latch and buttons put together. It touches no device
// before a driver runs, so that a missing bus costs its own channels and never
// the start. It refuses to judge a reading and to read back an output.
package hardware
