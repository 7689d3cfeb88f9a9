package record

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

const (
	defaultMaxBytes     = 1 << 30
	defaultSegmentBytes = 8 << 20
	// minSegmentBytes keeps heads from outweighing rows.
	minSegmentBytes = 4 << 10
	// maxHeld bounds what is kept in memory while the disk fails: about ten
	// minutes of eight channels, ten times a second.
	maxHeld = 1 << 20
)

// Options of a recorder.
type Options struct {
	// MaxBytes is the most that all runs together may take; 0 for 1 GiB. The
	// newest segment is never deleted.
	MaxBytes int64
	// SegmentBytes is when a new segment is begun; 0 for 8 MiB or an eighth of
	// MaxBytes, whichever is less.
	SegmentBytes int64
	// Info of the run; its Boot is set by Open.
	Info Info
}

func (o *Options) setDefaults() {
	if o.MaxBytes <= 0 {
		o.MaxBytes = defaultMaxBytes
	}
	if o.SegmentBytes <= 0 {
		o.SegmentBytes = max(min(defaultSegmentBytes, o.MaxBytes/8), minSegmentBytes)
	}
}

// Recorder is the Log in files. It is for one goroutine.
type Recorder struct {
	fsys   fileSystem
	dir    string
	folder string
	opts   Options

	enc *csvfile.Encoder
	// rows and events are what is not yet safe on disk.
	rows, events []byte
	last         time.Duration
	lastWall     time.Time
	started      bool

	segment      file
	segmentN     uint64
	segmentBytes int64
	log          file
	logTorn      bool
	stock        stock
	closed       bool
}

var _ Log = (*Recorder)(nil)

// Open begins a new run in dir, which is made when it isn't there.
func Open(dir string, opts Options) (*Recorder, error) { return open(osFS{}, dir, opts) }

func open(fsys fileSystem, dir string, opts Options) (*Recorder, error) {
	opts.setDefaults()
	r := &Recorder{fsys: fsys, dir: dir, opts: opts, lastWall: opts.Info.StartWall}
	var err error
	if r.folder, err = beginBoot(fsys, dir, &r.opts.Info); err != nil {
		return nil, err
	}
	if err := r.stock.take(fsys, dir, r.opts.Info.Boot); err != nil {
		return nil, err
	}
	return r, nil
}

// Boot returns the number of this run.
func (r *Recorder) Boot() uint64 { return r.opts.Info.Boot }

// Append implements Log. It touches no disk, and allocates only for events.
func (r *Recorder) Append(t time.Duration, wall time.Time, raw *frame.Frame, v *engine.Verdicts) error {
	if r.closed {
		return errors.New("the record is closed")
	}
	if r.started && t <= r.last {
		return nil
	}
	if len(r.rows)+len(r.events) > maxHeld {
		return ErrFull
	}
	if r.enc == nil || !r.enc.Covers(raw) {
		if len(r.rows) > 0 {
			return ErrFull // other columns need another segment
		}
		r.newColumns(raw)
	}
	r.rows = r.enc.AppendRow(r.rows, t, wall, raw)
	r.started, r.last, r.lastWall = true, t, wall
	for _, tr := range v.Transitions() {
		r.events = appendEvent(r.events, newEvent(r.opts.Info.Boot, wall, &tr))
	}
	return nil
}

// newColumns begins anew with columns for all that was ever fitted in this run.
func (r *Recorder) newColumns(raw *frame.Frame) {
	channels := csvfile.ChannelsOf(raw)
	if r.enc != nil {
		channels = append(channels, r.enc.Channels()...)
	}
	r.enc = csvfile.NewEncoder(channels)
	r.leaveSegment()
}

// Sync implements Log. The frames come first, so that an event's cause is on
// disk when the event is; neither waits for the other's luck.
func (r *Recorder) Sync() error {
	err := errors.Join(r.syncRows(), r.syncEvents())
	if r.stock.total() > r.opts.MaxBytes {
		err = errors.Join(err, r.prune())
	}
	return err
}

func (r *Recorder) syncRows() error {
	if len(r.rows) == 0 {
		return nil
	}
	var err error
	if r.segment == nil {
		err = r.beginSegment()
	} else {
		err = writeSync(r.segment, r.rows)
	}
	if err != nil {
		// The file's end is in doubt now, so the rows go to a new one.
		r.leaveSegment()
		return fmt.Errorf("cannot write frames to %s: %w; free space or check the card", r.folder, err)
	}
	r.segmentBytes += int64(len(r.rows))
	r.stock.current += int64(len(r.rows))
	r.rows = r.rows[:0]
	if r.segmentBytes >= r.opts.SegmentBytes {
		r.leaveSegment()
	}
	return nil
}

// beginSegment makes a new segment out of the rows at hand. If that fails the
// file is removed, so that a full disk doesn't fill up with beginnings.
func (r *Recorder) beginSegment() (err error) {
	r.segmentN++
	name := filepath.Join(r.folder, segmentName(r.segmentN))
	f, err := r.fsys.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, filePerm)
	if err != nil {
		return err
	}
	i := &r.opts.Info
	head := r.enc.AppendHead(nil, csvfile.About{Software: i.Software, Config: i.Config, Machine: i.Machine, Boot: i.Boot})
	if err = writeSync(f, append(head, r.rows...)); err == nil {
		err = r.fsys.SyncDir(r.folder)
	}
	if err != nil {
		_ = f.Close()           // the first error tells more
		_ = r.fsys.Remove(name) // what stays is found torn when reading
		return err
	}
	r.segment, r.segmentBytes = f, int64(len(head))
	r.stock.current += int64(len(head))
	return nil
}

// leaveSegment ends the open segment; all that counts in it is synced.
func (r *Recorder) leaveSegment() {
	if r.segment == nil {
		return
	}
	_ = r.segment.Close() // nothing unsynced is in it that isn't kept in rows
	r.stock.add(item{boot: r.opts.Info.Boot, segment: r.segmentN, bytes: r.segmentBytes})
	r.stock.current -= r.segmentBytes
	r.segment, r.segmentBytes = nil, 0
}

func (r *Recorder) syncEvents() error {
	if len(r.events) == 0 {
		return nil
	}
	if err := r.writeEvents(); err != nil {
		if r.log != nil {
			_ = r.log.Close() // the first error tells more
		}
		r.log, r.logTorn = nil, true
		return fmt.Errorf("cannot write events to %s: %w; free space or check the card", r.folder, err)
	}
	r.stock.current += int64(len(r.events))
	r.events = r.events[:0]
	return nil
}

func (r *Recorder) writeEvents() (err error) {
	if r.log == nil {
		name := filepath.Join(r.folder, eventsName)
		if r.log, err = r.fsys.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_APPEND, filePerm); err != nil {
			return err
		}
		if err = r.fsys.SyncDir(r.folder); err != nil {
			return err
		}
	}
	text := r.events
	if r.logTorn { // end whatever was cut off, on a line of its own
		text = append([]byte{'\n'}, text...)
	}
	if err = writeSync(r.log, text); err == nil {
		r.logTorn = false
	}
	return err
}

// Close implements Log.
func (r *Recorder) Close() error {
	if r.closed {
		return nil
	}
	err := r.Sync()
	r.closed = true
	r.leaveSegment()
	if r.log != nil {
		err = errors.Join(err, r.log.Close())
	}
	return err
}
