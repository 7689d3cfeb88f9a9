package exported

import (
	"bufio"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"headroom/daemon/store"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/rules/words"
)

// Sheet is how a part of the record becomes a table for a spreadsheet: people's
// units, the clock on the wall, one row in each step, nothing before the
// header. It is for looking and drawing; an export is for replaying.
type Sheet struct {
	// Run, number 0 for a whole boot. From and To cut it shorter, counted from
	// its own start; a To of 0 is its end. No row lies outside.
	Run      store.RunID
	From, To time.Duration
	// Step is the time that a row stands for; 0 is a second.
	Step time.Duration
	// Units of the columns, and the Zone that the times are in; nil is UTC.
	Units units.System
	Zone  *time.Location
	// DecimalComma writes 1,5 and parts the fields by semicolons.
	DecimalComma bool
	// Note stands in a last column of every row, where the readings are not a
	// real machine's; empty leaves the column out.
	Note string
}

// sheetMark makes spreadsheets read the text as UTF-8, so that "°F" stays one.
const sheetMark = "\uFEFF"

// clockSource is a record that knows the wall clock.
type clockSource interface {
	WallAt(ctx context.Context, boot uint64, t time.Duration) (time.Time, bool, error)
}

// WriteSheet writes the table and returns its number of rows. A cell is the mean
// of the good readings in its step, and empty where there was none; a switch is
// as it was last. A step without any frame has no row.
func WriteSheet(ctx context.Context, out io.Writer, r Record, s Sheet) (rows int, err error) {
	if s.Step == 0 {
		s.Step = time.Second
	}
	if s.Step < 0 || s.From < 0 || s.To < 0 || s.To > 0 && s.To <= s.From {
		return 0, errors.New("cannot write the table: step, from and to must not be negative, and to must lie after from")
	}
	head, channels, err := gather(ctx, r, What{Run: s.Run, Alone: true})
	if err != nil {
		return 0, fmt.Errorf("cannot write run %v as a table: %w", s.Run, err)
	}
	buffered := bufio.NewWriter(out)
	t := &sheetRows{sheet: &s, channels: channels, start: head.From, out: csv.NewWriter(buffered), events: head.Events}
	if s.DecimalComma {
		t.out.Comma = ';'
	}
	if c, ok := r.(clockSource); ok {
		if t.wall, _, err = c.WallAt(ctx, s.Run.Boot, head.From); err != nil {
			return 0, fmt.Errorf("cannot write run %v as a table: %w", s.Run, err)
		}
	}
	if err := t.standing(ctx, r); err != nil {
		return 0, err
	}
	fmt.Fprint(buffered, sheetMark)
	t.header()
	last := head.To
	if s.To > 0 {
		last = min(last, head.From+s.To-1)
	}
	for tick, err := range r.Frames(ctx, store.RunID{Boot: s.Run.Boot}, max(head.From+s.From, 1), max(last, 1)) {
		var lost *store.LostError
		if errors.As(err, &lost) {
			continue // its steps have no row
		}
		if err != nil {
			return t.rows, fmt.Errorf("cannot write run %v as a table: %w", s.Run, err)
		}
		t.take(&tick)
	}
	t.flush()
	t.out.Flush()
	return t.rows, errors.Join(t.out.Error(), buffered.Flush())
}

// sheetRows gathers the frames of a step.
type sheetRows struct {
	sheet    *Sheet
	channels []frame.Channel
	out      *csv.Writer
	rows     int
	start    time.Duration
	// wall of the start; zero where nothing is known of the clock.
	wall time.Time
	// step under way, counted from the start; filled once a frame came.
	step   int64
	filled bool
	sum    [frame.NumChannels]float64
	n      [frame.NumChannels]int
	// events that are still to come, and the alarms that stand.
	events []store.Event
	active []string
}

// standing finds the alarms that stood when the first row begins.
func (t *sheetRows) standing(ctx context.Context, r Record) error {
	all, err := r.Events(ctx, store.RunID{Boot: t.sheet.Run.Boot})
	if err != nil {
		return fmt.Errorf("cannot read the alarms of run %v: %w", t.sheet.Run, err)
	}
	t.events = all
	t.until(t.start + t.sheet.From)
	return nil
}

// until makes the alarms those of a moment.
func (t *sheetRows) until(at time.Duration) {
	for len(t.events) > 0 && t.events[0].T <= at {
		e := &t.events[0]
		kept := t.active[:0]
		for _, a := range t.active {
			if a != e.Alarm {
				kept = append(kept, a)
			}
		}
		if t.active = kept; e.Raised {
			t.active = append(t.active, e.Alarm)
		}
		t.events = t.events[1:]
	}
}

func (t *sheetRows) header() {
	row := []string{"Time", "Seconds"}
	for _, ch := range t.channels {
		name := ch.Label()
		if u := units.For(ch.Quantity(), t.sheet.Units); u.Symbol != "" {
			name += " (" + u.Symbol + ")"
		}
		row = append(row, name)
	}
	row = append(row, "Alarms")
	if t.sheet.Note != "" {
		row = append(row, "Readings")
	}
	_ = t.out.Write(row) // a failure stays with the writer
}

func (t *sheetRows) take(tick *store.Tick) {
	if step := int64((tick.T - t.start) / t.sheet.Step); step != t.step || !t.filled {
		t.flush()
		t.step, t.filled = step, true
	}
	t.until(tick.T)
	for _, ch := range t.channels {
		switch s := tick.Frame.Samples[ch]; {
		case !s.OK():
		case ch.Digital():
			t.sum[ch], t.n[ch] = s.Value, 1
		default:
			t.sum[ch] += s.Value
			t.n[ch]++
		}
	}
}

// flush writes the step under way.
func (t *sheetRows) flush() {
	if !t.filled {
		return
	}
	at := time.Duration(t.step) * t.sheet.Step
	row := []string{"", t.number(at.Seconds(), decimals(t.sheet.Step))}
	if !t.wall.IsZero() {
		row[0] = t.clock(t.wall.Add(at))
	}
	for _, ch := range t.channels {
		cell := ""
		if n := t.n[ch]; n > 0 {
			u := units.For(ch.Quantity(), t.sheet.Units)
			digits := u.Decimals + 1
			if ch.Digital() {
				digits = 0
			}
			cell = t.number(u.FromSI(t.sum[ch]/float64(n)), digits)
		}
		row = append(row, cell)
	}
	row = append(row, t.alarms())
	if t.sheet.Note != "" {
		row = append(row, t.sheet.Note)
	}
	_ = t.out.Write(row) // a failure stays with the writer
	t.rows++
	t.filled, t.sum, t.n = false, [frame.NumChannels]float64{}, [frame.NumChannels]int{}
}

// decimals are as many as steps below a second need.
func decimals(step time.Duration) int {
	if step%time.Second == 0 {
		return 0
	}
	return 1
}

func (t *sheetRows) clock(at time.Time) string {
	if t.sheet.Zone == nil {
		at = at.UTC()
	} else {
		at = at.In(t.sheet.Zone)
	}
	if t.sheet.Step%time.Second == 0 {
		return at.Round(time.Second).Format(time.DateTime)
	}
	return at.Format("2006-01-02 15:04:05.0")
}

// number never writes "-0", which a spreadsheet shows as it stands.
func (t *sheetRows) number(v float64, digits int) string {
	text := strconv.FormatFloat(v, 'f', digits, 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	if t.sheet.DecimalComma {
		text = strings.Replace(text, ".", ",", 1)
	}
	return text
}

// alarms are those that stand, in words.
func (t *sheetRows) alarms() string {
	var titles []string
	for _, name := range t.active {
		if id, ok := engine.AlarmByName(name); ok {
			titles = append(titles, words.Alarm(id).Title)
		} else {
			titles = append(titles, name)
		}
	}
	return strings.Join(titles, "; ")
}
