package hardware

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/calibrate"
)

// Calibrations are the calibrations in force, and the channels that are being
// checked. Safe for use by many goroutines.
type Calibrations struct {
	store *calibrate.Store
	wall  func() time.Time

	mu     sync.Mutex
	taps   [frame.NumChannels]func(calibrate.Sample)
	active []*running
}

// running is one run of a driver.
type running struct {
	stage    *calibrate.Stage
	channels []frame.Channel

	mu     sync.Mutex
	doubts [frame.NumChannels]string
}

// NewCalibrations takes the calibrations from a store. wall is the wall clock,
// for their age; nil is time.Now.
func NewCalibrations(store *calibrate.Store, wall func() time.Time) *Calibrations {
	if wall == nil {
		wall = time.Now
	}
	return &Calibrations{store: store, wall: wall}
}

// Check marks a channel as being checked and gives its raw readings to tap,
// which must not block; nil ends it. ok is false for a channel that is being
// checked already.
func (c *Calibrations) Check(ch frame.Channel, tap func(calibrate.Sample)) (ok bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if ch >= frame.NumChannels || tap != nil && c.taps[ch] != nil {
		return false
	}
	c.taps[ch] = tap
	for _, r := range c.active {
		if slices.Contains(r.channels, ch) {
			r.stage.Check(ch, tap)
		}
	}
	return true
}

// Reload puts the newest calibration of a channel to work, after one was made.
func (c *Calibrations) Reload(ch frame.Channel) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, r := range c.active {
		if slices.Contains(r.channels, ch) {
			c.load(r, ch)
		}
	}
}

// load gives a run its channel's calibration. What can't be read is no reason
// to go blind: the channel reads on, and its sensor's alarm is raised.
func (c *Calibrations) load(r *running, ch frame.Channel) {
	latest, err := c.store.Latest(ch)
	err = errors.Join(err, r.stage.Use(ch, latest))
	r.mu.Lock()
	defer r.mu.Unlock()
	r.doubts[ch] = ""
	if err != nil {
		r.doubts[ch] = err.Error()
	}
}

func (c *Calibrations) begin(channels []frame.Channel, post func(sensors.Reading)) *running {
	r := &running{channels: channels}
	r.stage = calibrate.NewStage(c.wall, func(reading sensors.Reading) { post(r.doubt(reading)) })
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, ch := range channels {
		c.load(r, ch)
		if c.taps[ch] != nil {
			r.stage.Check(ch, c.taps[ch])
		}
	}
	c.active = append(c.active, r)
	return r
}

func (c *Calibrations) end(r *running) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.active = slices.DeleteFunc(c.active, func(o *running) bool { return o == r })
}

// doubt marks a good reading whose calibration could not be read.
func (r *running) doubt(reading sensors.Reading) sensors.Reading {
	if reading.Channel >= frame.NumChannels || !reading.Sample.OK() {
		return reading
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if why := r.doubts[reading.Channel]; why != "" {
		reading.Sample.Status, reading.Note = frame.Uncorrected, why
	}
	return reading
}

// Wrap returns the driver with its readings corrected.
func (c *Calibrations) Wrap(d sensors.Driver) sensors.Driver { return &corrected{d, c} }

// corrected is a driver whose readings go through the calibrations.
type corrected struct {
	sensors.Driver
	cal *Calibrations
}

// Run implements sensors.Driver. Each run takes the calibrations anew.
func (d *corrected) Run(ctx context.Context, clock func() time.Duration, post func(sensors.Reading)) error {
	r := d.cal.begin(d.Channels(), post)
	defer d.cal.end(r)
	return d.Driver.Run(ctx, clock, r.stage.Post)
}
