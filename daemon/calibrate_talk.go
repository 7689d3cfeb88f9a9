package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	goio "io"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors"
	"headroom/sensors/calibrate"
)

// talk is a calibration on a terminal: the dialogue of package calibrate, with
// questions, answers and the sensor's live reading.
type talk struct {
	io       stdio
	ch       frame.Channel
	system   units.System
	dialogue calibrate.Dialogue
	// store takes the result; nil for a practice, of which nothing is kept.
	store  *calibrate.Store
	days   float64
	before *calibrate.Calibration
	now    func() time.Time

	lines   chan string
	samples chan calibrate.Sample
	note    string
	who     [3]string // name, instrument, note
	asked   int       // of these
	typed   *string   // a line that was not answered yet
	pending *float64  // a reference that waits for a steady reading
}

// errGivenUp ends a calibration that changed nothing.
var errGivenUp = errors.New("given up; the calibration before stays in use")

// run talks until the calibration is saved or given up.
func (t *talk) run(ctx context.Context, d sensors.Driver) error {
	ctx, cancel := context.WithCancel(ctx)
	t.samples, t.lines = make(chan calibrate.Sample, 64), make(chan string)
	ended := make(chan struct{})
	go t.read(ctx)
	go func() { defer close(ended); t.sense(ctx, d) }()
	defer func() {
		cancel()
		select {
		case <-ended:
		case <-time.After(2 * time.Second): // it hangs in a system call
		}
	}()
	t.greet()
	show := time.NewTicker(time.Second)
	defer show.Stop()
	t.ask()
	for {
		lines := t.lines
		if t.typed != nil {
			lines = nil
		}
		select {
		case <-ctx.Done():
			return errGivenUp
		case s := <-t.samples:
			t.dialogue, _ = t.dialogue.Next(s) // a reading is never refused
		case <-show.C:
			t.live()
		case line, more := <-lines:
			if !more {
				return errGivenUp
			}
			line = strings.TrimSpace(line)
			t.typed = &line
		}
		if done, err := t.goOn(); done || err != nil {
			return err
		}
	}
}

// goOn takes the point that waits for a steady reading, or else the answer
// that was typed. While a point waits, only giving up and going back don't.
func (t *talk) goOn() (done bool, err error) {
	if t.pending != nil {
		hasty := t.typed != nil && (*t.typed == "cancel" || *t.typed == "back")
		switch {
		case hasty:
			t.pending = nil
		case t.dialogue.View().CanTake:
			t.next(calibrate.Take{Reference: *t.pending})
			t.pending = nil
			t.ask()
		default:
			return false, nil
		}
	}
	if t.typed == nil {
		return false, nil
	}
	line := *t.typed
	t.typed = nil
	return t.answer(line)
}

// read hands over what is typed.
func (t *talk) read(ctx context.Context) {
	defer close(t.lines)
	for s := bufio.NewScanner(t.io.in); s.Scan(); {
		select {
		case t.lines <- s.Text():
		case <-ctx.Done():
			return
		}
	}
}

// sense runs the driver and hands over the channel's readings; one that finds
// no room is lost, and the next one is as good.
func (t *talk) sense(ctx context.Context, d sensors.Driver) {
	began := time.Now()
	clock := func() time.Duration { return time.Since(began) }
	post := func(r sensors.Reading) {
		if r.Channel != t.ch {
			return
		}
		select {
		case t.samples <- calibrate.Sample{At: r.At, Sample: r.Sample}:
		default:
		}
	}
	for ctx.Err() == nil {
		if err := d.Run(ctx, clock, post); err != nil {
			fmt.Fprintf(t.io.err, "headroom: %v\n", err)
		}
		select {
		case <-ctx.Done():
		case <-time.After(time.Second):
		}
	}
}

func (t *talk) greet() {
	fmt.Fprintf(t.io.out, "Calibration of %s (%s).\n", t.ch, t.ch.Place())
	switch {
	case t.store == nil:
		fmt.Fprintln(t.io.out, "The readings are simulated: this is a practice, and nothing will be saved.")
	default:
		fmt.Fprintln(t.io.out, "Stop the daemon first: two programs on one bus spoil each other's readings. Begin it anew after.")
	}
	if t.before != nil && !t.before.Undone {
		fmt.Fprintf(t.io.out, "In use: %s, method %s, by %s.\n", t.before.Date.Format(time.DateOnly), t.before.Method, t.before.Who)
	} else {
		fmt.Fprintln(t.io.out, "In use: none.")
	}
	fmt.Fprintln(t.io.out, `"back" goes back, "cancel" gives up.`)
}

var whoWords = [3]string{"Your name?", "Reference used? (empty for none)", "A note? (empty for none)"}

// ask says what is wanted now.
func (t *talk) ask() {
	v := t.dialogue.View()
	fmt.Fprintln(t.io.out)
	if v.Step != calibrate.Review {
		fmt.Fprintln(t.io.out, v.Todo)
		if v.CanEnd {
			fmt.Fprintln(t.io.out, `"enough" ends the table.`)
		}
		return
	}
	if t.asked == 0 {
		t.review(v)
	}
	if t.asked < len(whoWords) {
		fmt.Fprintln(t.io.out, whoWords[t.asked])
		return
	}
	fmt.Fprintf(t.io.out, "Save it for %g days? (yes or no)\n", t.days)
}

func (t *talk) review(v calibrate.View) {
	fmt.Fprintf(t.io.out, "Method %s.\n", v.Calibration.Method)
	writePoints(t.io.out, t.system, t.ch, v.Calibration.Points)
	for _, d := range v.Doubts {
		fmt.Fprintln(t.io.out, "Look:", d)
	}
}

// writePoints prints each point: what the sensor read, the reference, and what
// the calibrations before and after make of it.
func writePoints(out goio.Writer, s units.System, ch frame.Channel, points []calibrate.Point) {
	if len(points) == 0 {
		return
	}
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "point\tsensor\treference\tbefore\tafter\tunit\t")
	u := units.For(ch.Quantity(), s)
	text := func(si float64) string { return strconv.FormatFloat(u.FromSI(si), 'f', u.Decimals+2, 64) }
	for i, p := range points {
		fmt.Fprintf(w, "%d\t%s\t%s\t%s\t%s\t%s\t\n", i+1, text(p.Raw), text(p.Reference), text(p.AsFound), text(p.AsLeft), orDash(u.Symbol))
	}
	_ = w.Flush() // a terminal that is gone ends the program by itself
}

// live prints the reading and how still it stands, where that matters.
func (t *talk) live() {
	v := t.dialogue.View()
	if v.Step != calibrate.TakeLow && v.Step != calibrate.TakeHigh {
		return
	}
	text := "no reading"
	u := units.For(t.ch.Quantity(), t.system)
	switch {
	case v.Live.N > 0:
		text = strconv.FormatFloat(u.FromSI(v.Live.Mean), 'f', u.Decimals+2, 64) + " " + u.Symbol
	case v.Status != frame.NotFitted:
		text += ": " + v.Status.Words()
	}
	why := "steady"
	if !v.Live.Steady {
		why = v.Live.Why + fmt.Sprintf(" (%d of %d)", v.Live.N, calibrate.WindowSize)
	}
	if t.pending != nil {
		why += "; the point is taken as soon as it is steady"
	}
	if line := "  " + strings.TrimSpace(text) + "  " + why; line != t.note {
		t.note = line
		fmt.Fprintln(t.io.out, line)
	}
}

// answer takes a line that was typed.
func (t *talk) answer(line string) (done bool, err error) {
	step := t.dialogue.Step()
	switch {
	case line == "cancel":
		return true, errGivenUp
	case line == "back" && t.asked > 0:
		t.asked--
	case line == "back":
		t.next(calibrate.Back{})
	case line == "enough":
		t.next(calibrate.Enough{})
	case step == calibrate.ChooseMethod:
		t.next(calibrate.Choose{Method: calibrate.Method(line)})
	case step == calibrate.TakeLow || step == calibrate.TakeHigh:
		t.reference(line)
		return t.goOn()
	case t.asked < len(whoWords):
		t.name(line)
	case line == "yes":
		return t.save()
	case line == "no":
		return true, errGivenUp
	}
	t.ask()
	return false, nil
}

// name takes one of the answers of the review; a name there must be.
func (t *talk) name(line string) {
	if line == "" && t.asked == 0 {
		return
	}
	t.who[t.asked] = line
	t.asked++
}

// next makes a step and says why one is refused.
func (t *talk) next(e calibrate.Event) {
	d, err := t.dialogue.Next(e)
	if err != nil {
		fmt.Fprintln(t.io.out, err)
	}
	t.dialogue = d
}

// reference reads what the reference shows: a number in the shown unit, or
// with a unit of its own. It is taken now or as soon as the reading is steady.
func (t *talk) reference(line string) {
	q, u := t.ch.Quantity(), units.For(t.ch.Quantity(), t.system)
	si, err := units.Parse(q, line)
	if v, bare := strconv.ParseFloat(line, 64); bare == nil {
		si, err = u.ToSI(v), nil
	}
	if err != nil {
		fmt.Fprintf(t.io.out, "%v; a number alone is in %s\n", err, orDash(u.Symbol))
		return
	}
	t.pending = &si
}

// save signs, writes and says what is different now.
func (t *talk) save() (done bool, err error) {
	d, err := t.dialogue.Next(calibrate.Confirm{Who: t.who[0], Instrument: t.who[1], Note: t.who[2], Date: t.now(), ValidDays: t.days})
	if err != nil {
		return true, err
	}
	if t.store == nil {
		fmt.Fprintln(t.io.out, "A practice: nothing was saved.")
		return true, nil
	}
	result := d.Result()
	t.dialogue, _ = d.Next(calibrate.Saved{Err: t.store.Append(result)}) // it was at Saving, where this is never refused
	v := t.dialogue.View()
	if v.Step != calibrate.Done {
		fmt.Fprintf(t.io.out, "It could not be saved: %s\n", v.Problem)
		t.ask()
		return false, nil
	}
	fmt.Fprintf(t.io.out, "Saved. It holds until %s.\n", result.ValidUntil().Format(time.DateOnly))
	if result.After != nil {
		fmt.Fprintf(t.io.out, "The reading is now %s.\n", units.Format(t.ch.Quantity(), t.system, *result.After))
	}
	return true, nil
}
