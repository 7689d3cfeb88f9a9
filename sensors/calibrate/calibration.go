package calibrate

import (
	"fmt"
	"math"
	"time"

	"headroom/rules/frame"
)

// Method is how a reading is corrected.
type Method string

// The methods.
const (
	// None passes readings as they are; it records that a check found nothing
	// to correct.
	None Method = "none"
	// Zero adds an offset, found at one point.
	Zero Method = "zero"
	// TwoPoint is the straight line through two points.
	TwoPoint Method = "two-point"
	// Table is straight between neighbours of 3 to MaxPoints points.
	Table Method = "table"
)

// MaxPoints is the largest number of points.
const MaxPoints = 32

// The limits of what is taken for a calibration at all.
const (
	minGain      = 0.1
	maxGain      = 10.0
	maxValidDays = 3660
	maxText      = 500
)

// Point is one comparison with a reference. All values are in the channel's SI
// unit.
type Point struct {
	// Raw is the mean of the uncorrected steady reading.
	Raw float64 `json:"raw"`
	// Reference is what the reference showed.
	Reference float64 `json:"reference"`
	// AsFound is what the calibration before this one made of Raw; Raw itself
	// where there was none, or none that covers it.
	AsFound float64 `json:"as_found"`
	// AsLeft is what this one makes of it.
	AsLeft float64 `json:"as_left"`
	// Spread is the standard deviation of the steady reading.
	Spread float64 `json:"spread"`
}

// Calibration is one calibration of one channel.
type Calibration struct {
	// Channel is the name of the channel.
	Channel string `json:"channel"`
	// Method says how Points are used.
	Method Method `json:"method"`
	// Points in order of Raw: none, 1, 2 or 3 to MaxPoints, by Method.
	Points []Point `json:"points,omitempty"`
	// Margin is how far beyond its points the calibration may be used, in the
	// channel's unit. It should cover what the channel can read in work: beyond
	// it there is no value.
	Margin float64 `json:"margin"`
	// Date is when it was made.
	Date time.Time `json:"date"`
	// Who made it, with which Instrument as the reference, and a Note.
	Who        string `json:"who"`
	Instrument string `json:"instrument"`
	Note       string `json:"note,omitempty"`
	// ValidDays is for how many days it holds, above 0 and up to 3660. After
	// that the reading still counts, with the status Service.
	ValidDays float64 `json:"valid_days"`
	// Undone is set where the only calibration was undone: nobody compared the
	// sensor with anything, and nothing holds for any time. Method is None then.
	Undone bool `json:"undone,omitempty"`
	// After is the corrected reading when it was saved, if that was steady.
	After *float64 `json:"after,omitempty"`
}

// Apply corrects a raw value. ok is false for a value that is no number or
// further than Margin beyond the points, and for a calibration that isn't one;
// the value is 0 then. It doesn't allocate. Source: straight lines through the
// points; beyond the ends the outermost goes on.
func (c *Calibration) Apply(value float64) (corrected float64, ok bool) {
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return 0, false
	}
	if c.Method == None {
		return value, true
	}
	n := len(c.Points)
	if n == 0 || value < c.Points[0].Raw-c.Margin || value > c.Points[n-1].Raw+c.Margin {
		return 0, false
	}
	if n == 1 {
		corrected = value + (c.Points[0].Reference - c.Points[0].Raw)
	} else {
		i := 1
		for i < n-1 && value > c.Points[i].Raw {
			i++
		}
		a, b := &c.Points[i-1], &c.Points[i]
		corrected = a.Reference + (value-a.Raw)*((b.Reference-a.Reference)/(b.Raw-a.Raw))
	}
	if math.IsNaN(corrected) || math.IsInf(corrected, 0) {
		return 0, false
	}
	return corrected, true
}

// Range returns the raw values that Apply takes; all of them with None.
func (c *Calibration) Range() (lo, hi float64) {
	if c.Method == None || len(c.Points) == 0 {
		return math.Inf(-1), math.Inf(1)
	}
	return c.Points[0].Raw - c.Margin, c.Points[len(c.Points)-1].Raw + c.Margin
}

// ValidUntil returns when it ends to hold.
func (c *Calibration) ValidUntil() time.Time {
	return c.Date.Add(time.Duration(c.ValidDays * 24 * float64(time.Hour)))
}

// clockSlack is how far the clock may be behind the calibration's date.
const clockSlack = 48 * time.Hour

// Status is Good while it holds and Service after, and Good for an undone one,
// which is as good as none. A clock that stands well
// before the calibration's date is wrong, so that its age isn't known: Service
// too. why says so in words, empty when Good.
func (c *Calibration) Status(now time.Time) (s frame.Status, why string) {
	switch {
	case c.Undone:
		return frame.Good, ""
	case now.Before(c.Date.Add(-clockSlack)):
		return frame.Service, "age of the calibration unknown: the clock is before its date"
	case now.After(c.ValidUntil()):
		return frame.Service, "calibration of " + c.Date.Format(time.DateOnly) + " is out of date: calibrate anew"
	}
	return frame.Good, ""
}

// Validate says what is wrong and how to mend it.
func (c *Calibration) Validate() error {
	ch, ok := frame.ByName(c.Channel)
	switch {
	case !ok:
		return fmt.Errorf("there is no channel %q: check the name", c.Channel)
	case ch.Digital():
		return fmt.Errorf("%s is an on/off input, which can't be calibrated", c.Channel)
	case c.Date.IsZero():
		return fmt.Errorf("a calibration needs its date")
	case c.Who == "" || len(c.Who) > maxText || len(c.Instrument) > maxText || len(c.Note) > maxText:
		return fmt.Errorf("a calibration needs who made it, and texts of up to %d characters", maxText)
	case !(c.ValidDays > 0 && c.ValidDays <= maxValidDays):
		return fmt.Errorf("a calibration can't hold for %v days: give 1 to %d", c.ValidDays, maxValidDays)
	case c.Undone && c.Method != None:
		return fmt.Errorf("an undone calibration corrects nothing: its method must be none, not %s", c.Method)
	case !(c.Margin >= 0 && c.Margin <= 1e9):
		return fmt.Errorf("a margin of %v can't be: give how far beyond its points it may be used", c.Margin)
	}
	return c.validatePoints()
}

// counts says how many points each method has.
func (m Method) counts() (lo, hi int, ok bool) {
	switch m {
	case None:
		return 0, 0, true
	case Zero:
		return 1, 1, true
	case TwoPoint:
		return 2, 2, true
	case Table:
		return 3, MaxPoints, true
	}
	return 0, 0, false
}

func (c *Calibration) validatePoints() error {
	lo, hi, ok := c.Method.counts()
	if !ok {
		return fmt.Errorf("there is no method %q: give none, zero, two-point or table", c.Method)
	}
	if n := len(c.Points); n < lo || n > hi {
		return fmt.Errorf("method %s with %d points can't be: it has %d to %d", c.Method, n, lo, hi)
	}
	for i, p := range c.Points {
		if !(math.Abs(p.Raw) <= 1e12 && math.Abs(p.Reference) <= 1e12 && p.Spread >= 0 && p.Spread <= 1e12 &&
			math.Abs(p.AsFound) <= 1e12 && math.Abs(p.AsLeft) <= 1e12) {
			return fmt.Errorf("point %d isn't numbers", i+1)
		}
		if i == 0 {
			continue
		}
		gain := (p.Reference - c.Points[i-1].Reference) / (p.Raw - c.Points[i-1].Raw)
		if !(p.Raw > c.Points[i-1].Raw && gain >= minGain && gain <= maxGain) {
			return fmt.Errorf("points %d and %d don't rise together (or by more than 10 to 1): check the reference's unit and which reading was taken first", i, i+1)
		}
	}
	return nil
}
