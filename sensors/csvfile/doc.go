// Package csvfile reads and writes recordings as CSV text: the logs of other
// people's instruments through a map of their columns, and the program's own
// recordings without one. A reader streams: it holds one line at a time, makes
// no garbage per row and gives each row as a frame in SI with a status for
// every channel. What it can't read it reports, once and with the mend, and
// skips; it never guesses a value, fills a hole or lets time run backwards.
// It judges nothing and knows no limit.
//
// # The program's own format, version 1
//
// UTF-8 text, fields split by commas, lines ended by a line feed:
//
//	# headroom recording 1
//	# software: 0.1.0
//	# config: 9f86d081884c7d65
//	# machine: trailer 2
//	# boot: 123
//	t_ns,wall,inlet_pressure_pa,inlet_pressure_status,water_temp_k,water_temp_status
//	1000000000,2026-05-04T09:30:00.000000000Z,310264.1,good,288.4,good
//	1100000000,2026-05-04T09:30:00.100000000Z,310264.1,stale,,missing
//
// t_ns is the monotonic time since the start of the program that recorded, in
// nanoseconds; rows stand in its order and none repeats it. wall is what the
// clock said, in UTC, empty when there was none; it may jump. Then each channel
// of the machine has a value in the SI unit that its name ends in and a status,
// one of the words of frame.Status. Values are the shortest decimals that give
// the same bits again, so that a recording played back is the recording itself.
// A value that isn't good is the last one read, for evidence; an empty one is
// 0. A channel without columns is not fitted. A last line without a line feed
// is a write that was cut off and doesn't count.
package csvfile
