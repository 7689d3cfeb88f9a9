package app

import (
	"errors"
	"fmt"
	"sync"
	"time"

	"headroom/dashboard"
	"headroom/rules/frame"
	"headroom/sensors/calibrate"
)

// Checks is what marks a channel as being checked, hands out its raw readings
// meanwhile, and puts a new calibration to work: the drivers' calibrations.
type Checks interface {
	Check(ch frame.Channel, tap func(calibrate.Sample)) (ok bool)
	Reload(ch frame.Channel)
}

// sessionIdle is how long nobody may go on with a calibration before it is given
// up: a channel that is being checked is not watched. Only a person's steps
// count. A page looks by itself, also on a phone that was put aside.
const sessionIdle = 10 * time.Minute

// Calibrator takes people through calibrations while the drivers run, one at a
// time for each channel. It implements dashboard.Calibrator and is safe for use
// by many goroutines. Nothing in it ever waits for a sensor.
type Calibrator struct {
	checks   Checks
	store    *calibrate.Store
	channels [frame.NumChannels]bool
	practice string
	wall     func() time.Time

	// undoing lets one undo end before the next looks what is newest.
	undoing sync.Mutex

	mu       sync.Mutex
	sessions [frame.NumChannels]*session
}

// session is one calibration under way, or just ended.
type session struct {
	mu     sync.Mutex
	d      calibrate.Dialogue
	before *calibrate.Calibration
	who    string
	began  time.Time
	idle   *time.Timer
}

// NewCalibrator makes one for the channels that drivers feed through checks.
// practice says in words what is different from real sensors, empty for real
// ones. wall is the wall clock; nil is time.Now.
func NewCalibrator(checks Checks, store *calibrate.Store, channels []frame.Channel, practice string, wall func() time.Time) *Calibrator {
	if wall == nil {
		wall = time.Now
	}
	c := &Calibrator{checks: checks, store: store, practice: practice, wall: wall}
	for _, ch := range channels {
		if ch < frame.NumChannels {
			c.channels[ch] = true
		}
	}
	return c
}

// Practice says what is different from real sensors; empty for real ones.
func (c *Calibrator) Practice() string { return c.practice }

// Cannot says why a channel can't be calibrated here; empty when it can.
func (c *Calibrator) Cannot(ch frame.Channel) string {
	switch {
	case ch >= frame.NumChannels:
		return "there is no such channel"
	case ch.Digital():
		return "an on/off input has nothing to calibrate"
	case !c.channels[ch]:
		return "no sensor feeds it"
	}
	return ""
}

// History returns every calibration of a channel, the oldest first. With an
// error the list holds what is whole.
func (c *Calibrator) History(ch frame.Channel) ([]calibrate.Calibration, error) {
	return c.store.Load(ch)
}

// Begin starts a calibration, from when on the channel counts as being checked.
func (c *Calibrator) Begin(ch frame.Channel, who string) error {
	if why := c.Cannot(ch); why != "" {
		return fmt.Errorf("cannot calibrate %s: %s", ch.Label(), why)
	}
	before, err := c.store.Latest(ch)
	if err != nil {
		return fmt.Errorf("cannot calibrate %s: %w", ch.Label(), err)
	}
	tolerance, _ := calibrate.Tolerance(ch.Quantity())
	d, err := calibrate.Begin(calibrate.Setup{Channel: ch, Tolerance: tolerance, Before: before})
	if err != nil {
		return err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if s := c.sessions[ch]; s != nil && s.active() {
		return fmt.Errorf("%s is being calibrated already, since %s by %s: go on with that, or give it up", ch.Label(), s.began.Format("15:04"), s.who)
	}
	s := &session{d: d, before: before, who: who, began: c.wall()}
	if !c.checks.Check(ch, s.sample) {
		return fmt.Errorf("cannot calibrate %s: something else checks it now", ch.Label())
	}
	s.idle = time.AfterFunc(sessionIdle, func() { c.forget(ch, s) })
	c.sessions[ch] = s
	return nil
}

func (s *session) active() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.d.Active()
}

// sample takes a raw reading; it is called in the driver's own goroutine.
func (s *session) sample(x calibrate.Sample) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.d.Active() {
		s.d, _ = s.d.Next(x) // a reading is never refused
	}
}

// forget gives up a calibration that nobody goes on with any more.
func (c *Calibrator) forget(ch frame.Channel, s *session) {
	s.mu.Lock()
	was := s.d.Active()
	if was {
		s.d, _ = s.d.Next(calibrate.Cancel{}) // possible at every step
	}
	s.mu.Unlock()
	if was {
		c.checks.Check(ch, nil)
	}
}

func (c *Calibrator) session(ch frame.Channel) *session {
	c.mu.Lock()
	defer c.mu.Unlock()
	if ch >= frame.NumChannels {
		return nil
	}
	return c.sessions[ch]
}

// View returns the calibration under way or just ended; ok is false without
// one. Looking doesn't keep it from being given up.
func (c *Calibrator) View(ch frame.Channel) (v dashboard.CalibrationView, ok bool) {
	s := c.session(ch)
	if s == nil {
		return v, false
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	return dashboard.CalibrationView{View: s.d.View(), Who: s.who, Began: s.began, Before: s.before, Mark: s.mark(), Active: s.d.Active()}, true
}

// mark names the point at which a dialogue stands, so that two people with two
// phones don't take each other's steps.
func (s *session) mark() string {
	return fmt.Sprintf("%d-%d-%d", s.d.Step(), len(s.d.Result().Points), s.began.UnixMilli())
}

var (
	errNoCalibration = errors.New("no calibration is under way: begin one")
	errElsewhere     = errors.New("somebody else went on with this calibration meanwhile: look at the page again")
	errUndone        = errors.New("the calibrations changed meanwhile, so nothing was undone: look at the page again, which shows the one in use now")
)

// Next makes a step of the calibration that stands at mark. Confirm also saves
// it and puts it to work. The error is for people; nothing has changed then.
func (c *Calibrator) Next(ch frame.Channel, mark string, e calibrate.Event) error {
	s := c.session(ch)
	if s == nil {
		return errNoCalibration
	}
	ended, err := c.next(ch, s, mark, e)
	if !errors.Is(err, errNoCalibration) {
		s.idle.Reset(sessionIdle) // somebody is there, also where the step was refused
	}
	if ended {
		c.checks.Check(ch, nil)
	}
	return err
}

func (c *Calibrator) next(ch frame.Channel, s *session, mark string, e calibrate.Event) (ended bool, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	switch {
	case !s.d.Active():
		return false, errNoCalibration
	case mark != s.mark():
		return false, errElsewhere
	}
	d, err := s.d.Next(e)
	if err != nil {
		return false, err
	}
	s.d = d
	if d.Step() != calibrate.Saving {
		return !d.Active(), nil
	}
	saveErr := c.store.Append(d.Result())
	s.d, err = d.Next(calibrate.Saved{Err: saveErr})
	if err := errors.Join(saveErr, err); err != nil {
		return false, err
	}
	c.checks.Reload(ch)
	return true, nil
}

// Undo puts the calibration before the newest in force again, as a new entry:
// nothing that was ever in force is lost. Without one before, the readings are
// passed as they are. mark names the one that the person saw as the newest: a
// second tap, or a second person's, would put the undone one back in force.
func (c *Calibrator) Undo(ch frame.Channel, mark, who string) (calibrate.Calibration, error) {
	c.undoing.Lock()
	defer c.undoing.Unlock()
	if s := c.session(ch); s != nil && s.active() {
		return calibrate.Calibration{}, fmt.Errorf("%s is being calibrated: end that first", ch.Label())
	}
	all, err := c.store.Load(ch)
	if err != nil {
		return calibrate.Calibration{}, err
	}
	if len(all) == 0 {
		return calibrate.Calibration{}, fmt.Errorf("%s has no calibration to undo", ch.Label())
	}
	if mark != calibrate.Mark(all) {
		return calibrate.Calibration{}, errUndone
	}
	old, now := all[len(all)-1], c.wall()
	back := calibrate.Calibration{Channel: ch.String(), Method: calibrate.None, Date: now, Who: who, ValidDays: undoneDays, Undone: true}
	if len(all) > 1 {
		back = all[len(all)-2]
	}
	back.Note = fmt.Sprintf("put back on %s by %s, in place of the one of %s by %s", now.Format(time.DateOnly), who, old.Date.Format(time.DateOnly), old.Who)
	if err := c.store.Append(back); err != nil {
		return calibrate.Calibration{}, err
	}
	c.checks.Reload(ch)
	return back, nil
}

// undoneDays fills the place of how long a calibration holds, which an undone
// one doesn't: nothing ever falls due.
const undoneDays = 3660
