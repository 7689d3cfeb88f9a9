package calibrate

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"headroom/rules/frame"
)

// Step is where a dialogue stands.
type Step uint8

// The steps, in order.
const (
	// ChooseMethod: which method?
	ChooseMethod Step = iota
	// TakeLow: bring the low point, wait until steady, tell the reference.
	TakeLow
	// TakeHigh: the same for the high point, or for the next one of a table.
	TakeHigh
	// Review: look at it all, then save.
	Review
	// Saving: the caller writes Result and answers with Saved.
	Saving
	// Done: it is saved.
	Done
	// Cancelled: nothing was changed.
	Cancelled
)

// Event is what a person or a sensor does: one of the types below.
type Event interface{ event() }

// Choose chooses a method.
type Choose struct{ Method Method }

// Sample is a raw reading, without any correction, as it comes.
type Sample struct {
	At     time.Duration // monotonic
	Sample frame.Sample
}

// Take takes the present steady reading as a point.
type Take struct{ Reference float64 }

// Enough ends the taking of a table's points.
type Enough struct{}

// Back drops the last point, or returns to the choice of method.
type Back struct{}

// Confirm signs the review. The dialogue has no clock, so Date comes with it.
type Confirm struct {
	Who, Instrument, Note string
	Date                  time.Time
	ValidDays             float64
}

// Saved says how the writing of Result went; Err nil means well.
type Saved struct{ Err error }

// Cancel gives up, at any step before Done.
type Cancel struct{}

func (Choose) event()  {}
func (Sample) event()  {}
func (Take) event()    {}
func (Enough) event()  {}
func (Back) event()    {}
func (Confirm) event() {}
func (Saved) event()   {}
func (Cancel) event()  {}

// Setup is what a dialogue begins with.
type Setup struct {
	// Channel to calibrate; an analog one.
	Channel frame.Channel
	// Tolerance within which a reading must stand still, above 0, in the
	// channel's unit: a third of the accuracy that is wanted.
	Tolerance float64
	// Margin beyond the points; 0 means half of their span, and for Zero all
	// that the channel can read.
	Margin float64
	// Before is the calibration in use, nil for none.
	Before *Calibration
}

// Dialogue is a calibration under way. It is a value: Next returns the one
// after, and the old one stays as it was. The zero Dialogue refuses everything.
type Dialogue struct {
	setup  Setup
	step   Step
	ready  bool
	result Calibration
	window Window
	status frame.Status // of the last sample
	// problem is why the last save failed.
	problem string
}

// minSeparation is how many tolerances two points must be apart, so that their
// errors stay small against the gain between them.
const minSeparation = 20

// Begin starts a dialogue.
func Begin(s Setup) (Dialogue, error) {
	if s.Channel >= frame.NumChannels || s.Channel.Digital() {
		return Dialogue{}, fmt.Errorf("cannot calibrate %s: choose an analog channel", s.Channel)
	}
	if !(s.Tolerance > 0 && s.Tolerance < 1e9) || !(s.Margin >= 0 && s.Margin < 1e9) {
		return Dialogue{}, fmt.Errorf("cannot calibrate %s within %v and with a margin of %v: give a tolerance above 0 and a margin of 0 or more", s.Channel, s.Tolerance, s.Margin)
	}
	return Dialogue{setup: s, ready: true, result: Calibration{Channel: s.Channel.String()}}, nil
}

// errNotNow is an event that has no place at this step.
var errNotNow = errors.New("not at this step")

// Next returns the dialogue after an event. With an error, whose words are for
// people, nothing has changed.
func (d Dialogue) Next(e Event) (Dialogue, error) {
	if !d.ready || d.step >= Done {
		return d, fmt.Errorf("this calibration is over: begin a new one")
	}
	switch e := e.(type) {
	case Sample:
		return d.sample(e), nil
	case Cancel:
		d.step = Cancelled
		return d, nil
	case Choose:
		return d.choose(e)
	case Take:
		return d.take(e)
	case Enough:
		return d.enough()
	case Back:
		return d.back()
	case Confirm:
		return d.confirm(e)
	case Saved:
		return d.saved(e)
	}
	return d, errNotNow
}

// sample adds a reading. One that can't be used breaks the window: a point is
// taken from readings in a row.
func (d Dialogue) sample(e Sample) Dialogue {
	d.status = e.Sample.Status
	if !e.Sample.OK() && e.Sample.Status != frame.Checking {
		d.window = Window{}
		return d
	}
	d.window = d.window.Add(e.At, e.Sample.Value)
	return d
}

func (d Dialogue) choose(e Choose) (Dialogue, error) {
	if _, _, ok := e.Method.counts(); !ok || d.step != ChooseMethod {
		return d, fmt.Errorf("cannot choose method %q: %w; it is none, zero, two-point or table", e.Method, errNotNow)
	}
	d.result.Method, d.result.Points, d.step = e.Method, nil, TakeLow
	if e.Method == None {
		d.step = Review
	}
	return d, nil
}

func (d Dialogue) take(e Take) (Dialogue, error) {
	if d.step != TakeLow && d.step != TakeHigh {
		return d, fmt.Errorf("cannot take a point: %w", errNotNow)
	}
	s := d.window.Judge(d.setup.Tolerance)
	if !s.Steady {
		return d, fmt.Errorf("cannot take the point: the reading isn't steady (%s)", s.Why)
	}
	if !(math.Abs(e.Reference) <= 1e12) {
		return d, fmt.Errorf("cannot take the point: the reference %v is no number", e.Reference)
	}
	p := Point{Raw: s.Mean, Reference: e.Reference, AsFound: s.Mean, Spread: s.Spread}
	if d.setup.Before != nil {
		if found, ok := d.setup.Before.Apply(s.Mean); ok {
			p.AsFound = found
		}
	}
	if err := d.apart(p); err != nil {
		return d, err
	}
	// A copy: the dialogue before this one keeps its own points.
	before := d
	d.result.Points = append(slices.Clone(d.result.Points), p)
	d.window = Window{} // the next point is of new readings only
	d.step = TakeHigh
	if _, most, _ := d.result.Method.counts(); len(d.result.Points) == most {
		next, err := d.review()
		if err != nil {
			return before, err
		}
		return next, nil
	}
	return d, nil
}

// apart refuses a point too near to the last, or below it.
func (d Dialogue) apart(p Point) error {
	n := len(d.result.Points)
	if n == 0 {
		return nil
	}
	last, least := d.result.Points[n-1], minSeparation*d.setup.Tolerance
	if p.Raw-last.Raw < least {
		return fmt.Errorf("cannot take the point: its reading must be at least %.4g above the last one's %.4g and is %.4g: go higher", least, last.Raw, p.Raw)
	}
	if p.Reference <= last.Reference {
		return fmt.Errorf("cannot take the point: its reference %.4g must be above the last one's %.4g", p.Reference, last.Reference)
	}
	if gain := (p.Reference - last.Reference) / (p.Raw - last.Raw); !(gain >= minGain && gain <= maxGain) {
		return fmt.Errorf("cannot take the point: the reference rose %.3g times as much as the reading: check the reference's unit", gain)
	}
	return nil
}

func (d Dialogue) enough() (Dialogue, error) {
	least, _, _ := d.result.Method.counts()
	if d.step != TakeHigh || len(d.result.Points) < least {
		return d, fmt.Errorf("cannot end here: %w; a table has at least %d points", errNotNow, least)
	}
	return d.review()
}

// review computes what is shown; a calibration that isn't one goes back.
func (d Dialogue) review() (Dialogue, error) {
	next := d
	next.step = Review
	c := &next.result
	c.Margin = next.margin()
	for i := range c.Points {
		c.Points[i].AsLeft, _ = c.Apply(c.Points[i].Raw)
	}
	if err := c.validatePoints(); err != nil {
		return d, fmt.Errorf("cannot use these points: %w: go back", err)
	}
	return next, nil
}

func (d Dialogue) margin() float64 {
	n := len(d.result.Points)
	switch {
	case n == 0 || d.setup.Margin > 0:
		return d.setup.Margin
	case n == 1:
		lo, hi := d.setup.Channel.Believable()
		return hi - lo
	}
	return (d.result.Points[n-1].Raw - d.result.Points[0].Raw) / 2
}

func (d Dialogue) back() (Dialogue, error) {
	n := len(d.result.Points)
	switch {
	case d.step == ChooseMethod || d.step == Saving:
		return d, fmt.Errorf("cannot go back: %w", errNotNow)
	case n == 0:
		d.step = ChooseMethod
	default:
		d.result.Points = slices.Clone(d.result.Points[:n-1])
		d.step = TakeHigh
		if n == 1 {
			d.step = TakeLow
		}
	}
	d.window, d.problem = Window{}, ""
	return d, nil
}

func (d Dialogue) confirm(e Confirm) (Dialogue, error) {
	if d.step != Review {
		return d, fmt.Errorf("cannot save: %w", errNotNow)
	}
	next := d
	c := &next.result
	c.Who, c.Instrument, c.Note, c.Date, c.ValidDays = e.Who, e.Instrument, e.Note, e.Date, e.ValidDays
	c.After = nil
	if s := d.window.Judge(d.setup.Tolerance); s.Steady {
		if after, ok := c.Apply(s.Mean); ok {
			c.After = &after
		}
	}
	if err := c.Validate(); err != nil {
		return d, fmt.Errorf("cannot save: %w", err)
	}
	next.step, next.problem = Saving, ""
	return next, nil
}

func (d Dialogue) saved(e Saved) (Dialogue, error) {
	if d.step != Saving {
		return d, fmt.Errorf("nothing was to be saved: %w", errNotNow)
	}
	d.step = Done
	if e.Err != nil {
		d.step, d.problem = Review, e.Err.Error()
	}
	return d, nil
}
