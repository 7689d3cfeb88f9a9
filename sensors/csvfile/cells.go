package csvfile

import (
	"math"
	"time"

	"headroom/rules/frame"
)

// fill makes the present line a frame.
func (r *Reader) fill(f *frame.Frame, ns int64) (wall time.Time) {
	*f = frame.Frame{}
	for i := range r.columns {
		f.Samples[r.columns[i].Channel] = r.sample(&r.columns[i])
	}
	switch {
	case r.clock.wall:
		return time.Unix(0, ns).UTC()
	case r.wallCol < 0:
		return time.Time{}
	}
	text := r.field(r.wallCol)
	if len(text) == 0 {
		return time.Time{}
	}
	w, ok := r.wallClock.parse(text)
	if !ok {
		r.badCell(wallName, text, "is no date", "the row counts without it")
		return time.Time{}
	}
	return time.Unix(0, w).UTC()
}

// sample reads one channel's value and status.
func (r *Reader) sample(c *bound) frame.Sample {
	text := r.field(c.value)
	status := frame.Good
	if c.status >= 0 {
		status = r.status(c, r.field(c.status))
	}
	switch {
	case len(text) > 0:
	case status == frame.Good:
		return frame.Sample{Status: r.empty(c)}
	default:
		return frame.Sample{Status: status}
	}
	v, bad := r.value(c, text)
	if bad == frame.Good {
		return frame.Sample{Value: v, Status: status}
	}
	if status != frame.Good {
		bad = status // the recorder knew better why
	}
	return frame.Sample{Status: bad}
}

// value reads a number and turns it into SI. bad is Good when that worked,
// else the status that the cell's content earns.
func (r *Reader) value(c *bound, text []byte) (v float64, bad frame.Status) {
	v, ok := parseNumber(text, r.point)
	if !ok && c.Channel.Digital() {
		v, ok = parseSwitch(text)
	}
	if ok {
		v = c.toSI(v)
	}
	switch {
	case ok && !math.IsInf(v, 0) && !math.IsNaN(v):
		return v, frame.Good
	case ok || infinite(text):
		r.badCell(c.Name, text, "is beyond what a sensor can give", "the channel counts as out of band in this row")
		return 0, frame.OutOfBand
	case noReading(text):
		r.badCell(c.Name, text, "is no number", "the channel counts as without a reading in this row")
		return 0, frame.Missing
	}
	r.badCell(c.Name, text, "is no number", "the channel counts as failed in this row; check the decimal mark and the column map")
	return 0, frame.Failed
}

// status reads a word of frame.Status. An empty one leaves the judgement to
// the value, but a recording of this program always has one.
func (r *Reader) status(c *bound, text []byte) frame.Status {
	if string(text) == "good" {
		return frame.Good // nearly all of them
	}
	if len(text) == 0 && !r.own {
		return frame.Good
	}
	if s, ok := frame.StatusByName(string(text)); ok {
		return s
	}
	r.badCell(c.StatusColumn, text, "is no status", "the channel counts as failed in this row")
	return frame.Failed
}

// empty is the status of an empty cell. In a recording of this program a good
// sample always has a value, so its lack is worth a word.
func (r *Reader) empty(c *bound) frame.Status {
	if r.own {
		r.badCell(c.Name, nil, "is empty although the status is good", "the channel counts as without a reading in this row")
	}
	return frame.Missing
}

func (r *Reader) badCell(column string, text []byte, problem, mend string) {
	r.stats.BadCells++
	r.cell(column, text, problem, mend)
}
