// Package parquetfile writes and reads recordings as Apache Parquet, the open
// column format that spreadsheets' bigger sisters read: one row for each frame,
// every value to its last bit, so that a recording read back replays to the
// same verdicts. It owns the columns and where the words about a recording
// stand in the file; it refuses files that lack a column it needs, and rows
// whose time goes back. It knows nothing of records, runs or rules, and reads
// no other program's tables: a foreign log comes in as CSV with a map.
//
// # Columns
//
//	t_ns    INT64            monotonic time since the recording program began, ns
//	time_s  DOUBLE           the same in seconds, for people; not read back
//	wall    TIMESTAMP(ns)    what the clock said, UTC; null for none
//
// and for each channel of the machine, in the order of frame.Channel:
//
//	inlet_pressure_pa      DOUBLE   value in the SI unit that the name ends in
//	inlet_pressure_status  STRING   one of the words of frame.Status
//
// The names are those of the program's CSV recordings, see sensors/csvfile. A
// value is null where the status isn't good and nothing was read; a value
// beside another status than good is the last one read, kept as evidence and
// not to be used.
//
// # Words
//
// The file's key-value metadata holds "headroom.recording", the version of this
// layout, "headroom.units", a JSON object that names the unit of every column
// of values, and whatever the caller has to say. Pages are packed with
// Zstandard, row groups hold an hour.
package parquetfile
