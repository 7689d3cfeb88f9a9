package store

import (
	"time"

	"headroom/daemon/store/tail"
)

// Info is what is known of a boot of the program: one Open.
type Info struct {
	// Boot is its number, from 1, and never given twice. Open sets it.
	Boot uint64
	// Software is the version that records, Machine the machine's name.
	Software, Machine string
	// ConfigHash names the configuration in force, ConfigText is its text; it
	// is kept once for each hash.
	ConfigHash string
	ConfigText []byte
	// StartWall is what the clock said at the start; it may have been wrong.
	StartWall time.Time
	// Kept is how the engine's alarms stood at the start, as whoever records
	// wrote it down; nil for none. It comes back bit for bit, so that a replay
	// begins where the live engine began.
	Kept []byte
	// Source is what gave the readings, and where an imported boot comes from.
	// Open takes no file.
	Source Source
}

// Options of a store. The zero value is usable.
type Options struct {
	Info Info
	// MaxBytes is the most that the record may take; 0 for 1 GiB, at least
	// 4 MiB more than TailBytes.
	MaxBytes int64
	// TailBytes is the size of the file of the last minutes, which is made
	// once; 0 for 4 MiB: two hours of ten frames a second, should the database
	// fail for so long.
	TailBytes int64
	// SealFrames is how many frames go to the database at a time, 0 for 18,000
	// (half an hour). SealEvery does the same for slower frames; 0 for half an
	// hour.
	SealFrames int
	SealEvery  time.Duration
	// HoldOff is how long the pump must stand before a run counts as ended, so
	// that a pause of the trigger doesn't tear it; 0 for a minute.
	HoldOff time.Duration
	// IncidentBefore and IncidentAfter are what is kept longest around an
	// alarm of level warning or act, or a stop; 0 for ten and five minutes.
	IncidentBefore, IncidentAfter time.Duration
	// WallStep is how exactly the wall time of frames is kept; 0 for a
	// millisecond. Monotonic times are always exact.
	WallStep time.Duration
	// CheckBytes is up to which size the database is checked as a whole when
	// it is opened; 0 for 64 MiB. Beyond, Check does it on demand; blocks are
	// checked whenever they are read.
	CheckBytes int64

	openTail tail.Opener
}

const (
	defaultMaxBytes   = 1 << 30
	defaultTailBytes  = 4 << 20
	leastDatabase     = 4 << 20
	defaultSealFrames = 18_000
	defaultSealEvery  = 30 * time.Minute
	defaultHoldOff    = time.Minute
	defaultBefore     = 10 * time.Minute
	defaultAfter      = 5 * time.Minute
	defaultWallStep   = time.Millisecond
	defaultCheckBytes = 64 << 20
)

func (o *Options) setDefaults() {
	fill(&o.MaxBytes, defaultMaxBytes)
	fill(&o.TailBytes, defaultTailBytes)
	fill(&o.SealFrames, defaultSealFrames)
	fill(&o.SealEvery, defaultSealEvery)
	fill(&o.HoldOff, defaultHoldOff)
	fill(&o.IncidentBefore, defaultBefore)
	fill(&o.IncidentAfter, defaultAfter)
	fill(&o.WallStep, defaultWallStep)
	fill(&o.CheckBytes, defaultCheckBytes)
	o.MaxBytes = max(o.MaxBytes, o.TailBytes+leastDatabase)
	o.SealFrames = min(o.SealFrames, maxSealFrames)
	if o.openTail == nil {
		o.openTail = tail.OpenFile
	}
}

func fill[T int | int64 | time.Duration](v *T, def T) {
	if *v <= 0 {
		*v = def
	}
}
