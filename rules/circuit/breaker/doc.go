// Package breaker keeps a thermal memory for the circuit breaker in front of
// the jetter and says when that breaker may trip, and by when it should have.
//
// A standard doesn't give a breaker one trip time but a band: it must hold
// some current, must trip at a higher one within a given time, and anything
// between is allowed. So the package owns two thermal images, the fastest and
// the slowest breaker that still pass the calibration points of UL 489 or
// IEC 60898-1, advances both from tick to tick, and answers from both. Between
// the calibration points the standard says nothing; there the answer rests on
// the shape of first-order heating, which the comment in model.go
// derives, and Window.VouchedS tells what the standard alone would promise.
//
// It refuses to know the ambient temperature (both standards calibrate at a
// stated ambient; a breaker in a hot box trips earlier), ground-fault and
// arc-fault functions, fuses, and a breaker's wear. It is an aid and does not
// replace a look at the panel or a licensed electrician; local code decides.
package breaker
