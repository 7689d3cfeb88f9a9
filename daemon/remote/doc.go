// Package remote sends what the record holds to a store that speaks
// Prometheus' remote-write protocol, so that an owner of many trailers sees all
// of them in one place. It owns the way from the record to the wire: readings
// summed up in windows, headroom, alarms and counters, one minute of the record
// after the other, oldest first. Days without signal are no loss: the record is
// the queue, and only a position in it is kept beside it.
//
// What is promised, and how:
//
//   - No gap and no duplicate. A batch is written to disk before it is sent,
//     and the position moves on only when the store has answered. After a lost
//     answer, or a restart, the very same bytes are sent again, which a store
//     of this protocol takes as one.
//   - Order. Within a series time only goes forward, even where the wall clock
//     was set back; see stamper.
//   - True times. Nothing of a boot is sent until its clock was trusted, or a
//     later boot's is; see Options.AnyClock.
//   - A budget. Bytes are counted at the connection. Windows get wider, and at
//     last readings are left out and counted, before a day's budget is passed;
//     alarms, counters and headroom are always sent.
//   - Manners. Answers 5xx and 429 are tried again with growing pauses and
//     Retry-After; what the store refuses is counted and given up. Answers that
//     speak of the address or the password (401, 403, 404 and such) refuse no
//     data: sending stops, says so, and tries now and then.
//
// The package judges with the engine and nothing else, writes nothing to the
// record, and never delays the tick. It refuses to be a server: any store that
// takes the protocol will do.
package remote
