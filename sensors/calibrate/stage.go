package calibrate

import (
	"fmt"
	"sync"
	"time"

	"headroom/rules/frame"
	"headroom/sensors"
)

// Stage stands between the drivers and the board: it corrects each reading by
// its channel's calibration, marks it Service when that is out of date, and
// Checking while the channel is being calibrated. Safe for use by many
// goroutines; it never blocks and doesn't allocate for a good reading.
type Stage struct {
	wall func() time.Time
	next func(sensors.Reading)

	mu       sync.Mutex
	cal      [frame.NumChannels]*Calibration
	checking [frame.NumChannels]func(Sample)
}

// NewStage makes a stage. wall is the wall clock, for the age of calibrations;
// next takes the readings, such as Board.Post.
func NewStage(wall func() time.Time, next func(sensors.Reading)) *Stage {
	return &Stage{wall: wall, next: next}
}

// Use puts a valid calibration to work; nil for none. The stage keeps a copy.
func (s *Stage) Use(ch frame.Channel, c *Calibration) error {
	if ch >= frame.NumChannels {
		return fmt.Errorf("cannot use a calibration for channel %d: there is no such channel", ch)
	}
	if c != nil {
		if err := c.Validate(); err != nil {
			return fmt.Errorf("cannot use the calibration of %s: %w", ch, err)
		}
		if c.Channel != ch.String() {
			return fmt.Errorf("cannot use a calibration of %s for %s", c.Channel, ch)
		}
		copied := *c
		copied.Points = append([]Point(nil), c.Points...)
		c = &copied
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.cal[ch] = c
	return nil
}

// Check marks a channel as being checked and gives its raw readings to tap,
// which must not block; nil ends it. ok is false for a channel that is being
// checked already.
func (s *Stage) Check(ch frame.Channel, tap func(Sample)) (ok bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if ch >= frame.NumChannels || tap != nil && s.checking[ch] != nil {
		return false
	}
	s.checking[ch] = tap
	return true
}

// Post corrects a reading and passes it on.
func (s *Stage) Post(r sensors.Reading) {
	if r.Channel >= frame.NumChannels {
		return
	}
	s.mu.Lock()
	cal, tap := s.cal[r.Channel], s.checking[r.Channel]
	s.mu.Unlock()
	if tap != nil {
		tap(Sample{At: r.At, Sample: r.Sample})
	}
	if r.Sample.OK() && cal != nil {
		r = cal.correct(r, s.wall())
	}
	if r.Sample.OK() && tap != nil {
		r.Sample.Status, r.Note = frame.Checking, "being calibrated"
	}
	s.next(r)
}

// correct applies the calibration. Beyond its range the reading is Suspect,
// which is NE 107's "out of specification", and has no value.
func (c *Calibration) correct(r sensors.Reading, now time.Time) sensors.Reading {
	value, ok := c.Apply(r.Sample.Value)
	if !ok {
		lo, hi := c.Range()
		r.Note = fmt.Sprintf("reading %.4g is beyond what the calibration of %s covers, %.4g to %.4g (SI)", r.Sample.Value, c.Date.Format(time.DateOnly), lo, hi)
		r.Sample = frame.Sample{Status: frame.Suspect}
		return r
	}
	r.Sample.Value = value
	if st, why := c.Status(now); st != frame.Good {
		r.Sample.Status, r.Note = st, why
	}
	return r
}
