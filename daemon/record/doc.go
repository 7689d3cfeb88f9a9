// Package record stands between the tick, which must never wait, and the disk,
// which may hang for many seconds: a bounded queue with one goroutine behind
// it. A disk that is full, read-only or broken never stops the watching: the
// queue counts what it must drop, names the span of time that is lost, says why
// and for how long it has been waiting, and tries again. Frames are made safe
// each second, alarms at once. The package knows no file and no format, which
// are the business of the Log behind it, and it judges nothing.
package record
