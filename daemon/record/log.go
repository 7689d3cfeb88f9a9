package record

import (
	"errors"
	"time"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

// Log is where history goes. Its narrowness is the point: what lies behind it
// can give way to something else without anybody noticing. A log that also has
//
//	NoteTotals(t *engine.Totals)
//	NoteLoss(l Loss)
//
// is given the engine's totals before the Append that they belong to, and what
// was dropped before that frame.
type Log interface {
	// Append takes a raw frame and the alarms that changed with it into
	// memory. ErrFull means that nothing was taken and that Sync must come
	// first. Frames whose time does not lie after the last one are passed
	// over, as the engine rejects them too.
	Append(t time.Duration, wall time.Time, raw *frame.Frame, v *engine.Verdicts) error
	// Sync makes safe what was appended. After an error all of it is still
	// held, and a later Sync tries again by other means.
	Sync() error
	// Close syncs and ends the log.
	Close() error
}

// ErrFull is the error of Append when no more fits before a Sync.
var ErrFull = errors.New("the rows that are not yet on disk must be synced first")

// totalsNoter and lossNoter are what a log may have besides.
type (
	totalsNoter interface{ NoteTotals(t *engine.Totals) }
	lossNoter   interface{ NoteLoss(l Loss) }
)
