package store

import (
	"time"

	"headroom/rules/engine"
	"headroom/rules/machine"
)

// How a run ended.
const (
	// stillOpen is a run that goes on.
	stillOpen = ""
	// endStopped: the pump stood for longer than the hold-off, or no frames
	// came for as long.
	endStopped = "stopped"
	// endClosed: the program ended.
	endClosed = "closed"
	// endCut: the program was cut off, as by the power.
	endCut = "cut"
	// endOver is a boot that a later one followed.
	endOver = "over"
)

// runRow is a run as it stands in the tail and in the database.
type runRow struct {
	N       int           `json:"n"`
	T0      time.Duration `json:"t0"`
	T1      time.Duration `json:"t1"`
	Ended   string        `json:"ended,omitempty"`
	Summary Summary       `json:"summary"`
}

// tracker cuts time into runs: from the first frame in which the pump turns to
// the last one before it stood for the hold-off. Nobody presses a button for
// it. A state that can't be told neither begins nor ends a run.
type tracker struct {
	holdOff time.Duration
	row     runRow
	open    bool
	turned  time.Duration
	// begin are the totals when the run began, before those of the last frame.
	begin, before engine.Totals
	worst         [engine.NumRules]Worst
	seen          [engine.NumRules]bool
	// ended are runs that ended and are not yet written.
	ended []runRow
}

// step takes a frame's verdicts; totals are those last noted. changed tells
// that a run began or ended.
func (r *tracker) step(t time.Duration, v *engine.Verdicts, totals *engine.Totals) (changed bool) {
	defer func() { r.before = *totals }()
	turning := v.Machine.Turning()
	if r.open && t-r.turned > r.holdOff {
		r.end(endStopped, r.turned, totals)
		changed = true
	}
	if turning && !r.open {
		r.row = runRow{N: r.row.N + 1, T0: t}
		// Up to the frame before: the start that begins the run belongs to it.
		r.open, r.begin = true, r.before
		r.worst, r.seen = [engine.NumRules]Worst{}, [engine.NumRules]bool{}
		changed = true
	}
	if !r.open {
		return changed
	}
	r.row.T1 = t
	if turning || v.Machine == machine.Unknown {
		r.turned = t
		r.note(t, v)
	}
	return changed
}

// note keeps the least headroom of each rule.
func (r *tracker) note(t time.Duration, v *engine.Verdicts) {
	for i := range v.Rules {
		j := &v.Rules[i]
		if j.Judge == engine.Watching && (!r.seen[i] || j.Share < r.worst[i].Share) {
			r.seen[i], r.worst[i] = true, Worst{Share: j.Share, Headroom: j.Headroom, T: t}
		}
	}
}

// end closes the open run, if there is one.
func (r *tracker) end(how string, at time.Duration, totals *engine.Totals) {
	if !r.open {
		return
	}
	row := r.now(totals)
	row.T1, row.Ended = at, how
	r.ended = append(r.ended, row)
	r.open = false
}

// now is the open run as far as it has come.
func (r *tracker) now(totals *engine.Totals) runRow {
	row := r.row
	row.Summary = Summary{Sums: sumsBetween(totals, &r.begin), Through: row.T1}
	for i, w := range r.worst {
		if share, head := finite(w.Share), finite(w.Headroom); r.seen[i] && share != nil && head != nil {
			addTo(&row.Summary.Worst, engine.RuleID(i).String(), w)
		}
	}
	return row
}

// rows are all runs that must be written, the open one last.
func (r *tracker) rows(totals *engine.Totals) []runRow {
	rows := append([]runRow(nil), r.ended...)
	if r.open {
		rows = append(rows, r.now(totals))
	}
	return rows
}
