// Package store is the record of the machine's life: every raw frame, every
// alarm that came or went, what people did, runs with their summaries, and the
// configurations under which all of that was judged. It takes the place of
// daemon/record behind record.Log, and it is read through the functions of
// Store. Frames come back bit for bit, so a replay gives the verdicts of then.
//
// Two files share the work, as each is good at what the other isn't:
//
//	tail       the last minutes; a sync each second costs one or two sectors
//	record.db  everything else, SQLite; written a few times an hour
//
// What Sync has returned for is in one of them, and what a power cut left in
// the tail is taken over into the database by the next Open, once. A disk that
// is full, read-only or broken gives errors and is tried again; nothing here
// stops the watching, as long as a record.Queue stands before it.
//
// Order is by the number of the boot and monotonic time. Wall time is a note
// beside it, and better knowledge of it is kept as observations, so a clock
// that is set neither tears nor reorders a run. When the size limit is reached
// the oldest frames are thinned to buckets first, those around incidents last,
// and every deletion is written down.
//
// What is sealed is vouched for by a chain of hashes, see chain.go: a head of it
// that was noted elsewhere shows later whether the record is still the one that
// it was. Digests over the engine's verdicts, see digest.go, show that a replay
// judges as was judged then. Boots that were recorded elsewhere come in through
// an Importer, and count for no machine's life; the counters themselves go from
// record to record by EncodeLife and ImportLife.
//
// The package judges nothing. It asks the clock only for the dates of its own
// deletions and migrations, and for the pause after an error.
package store
