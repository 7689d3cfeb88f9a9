// Package record keeps the machine's history on disk: every raw frame that
// went into the engine, and every alarm that went up or back. It is made for a
// board whose ordinary way of being switched off is a power cut, so whatever
// Sync has returned for is on the disk, and a write that was cut off is found
// when reading. A disk that is full, read-only or broken never stops the
// watching: the queue counts what it must drop, says why, and tries again. The
// package judges nothing, and it trusts the wall clock with nothing: rows are
// ordered by the number of the run and the monotonic time.
//
// # On disk
//
//	boot-number              number of the last run
//	deletions.jsonl          what was deleted to keep within the size
//	boot-000123/boot.json    version, config hash, machine, wall time of start
//	boot-000123/frames-0001.csv, frames-0002.csv, ...
//	boot-000123/events.jsonl one alarm transition a line
//
// The frames are in the program's own CSV format (see sensors/csvfile), so each
// segment can be replayed as it is. After an error a new segment is begun with
// all rows that were not yet safe, so the rows of two segments may overlap;
// readers here drop the repeated ones.
package record
