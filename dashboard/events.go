package dashboard

import (
	"sort"
	"strconv"
	"time"

	"headroom/daemon/snapshot"
	"headroom/rules/units"
	"headroom/rules/words"
)

// eventRow is one alarm that came or went, or what a person did to it.
type eventRow struct {
	Clock, What, Tone, Level, Title string
	// Detail is the value and the limit at that moment, or who it was.
	Detail string
	Raised bool
	First  bool
	// Person is true for what a person did.
	Person bool
	// Moment holds all readings of when the first alarm came up, Key names its
	// fold.
	Moment []momentRow
	Key    string

	t time.Duration
}

// shownEvents is what fits under the page without making it endless; the rest
// is in the JSON and in the record.
const shownEvents = 12

// eventRows returns the newest events and acts, newest first.
func (s *server) eventRows(sys units.System) []eventRow {
	evs, acts := s.feed.Events(0), s.feed.Acts(0)
	evs, acts = evs[max(0, len(evs)-shownEvents):], acts[max(0, len(acts)-shownEvents):]
	out := make([]eventRow, 0, len(evs)+len(acts))
	for i := range evs {
		out = append(out, eventRowOf(&evs[i], sys))
	}
	for i := range acts {
		e := &acts[i]
		out = append(out, eventRow{
			Clock: clock(e.Wall), Title: words.Alarm(e.Did.Alarm).Title, What: past(&e.Did), Tone: "person", Person: true,
			Level: "by " + e.Who, Detail: "now " + e.Did.Phase.Words(), t: e.Did.T,
		})
	}
	// Newest first; at the same moment the later entry of each list.
	for i, k := 0, len(out)-1; i < k; i, k = i+1, k-1 {
		out[i], out[k] = out[k], out[i]
	}
	sort.SliceStable(out, func(i, k int) bool { return out[i].t > out[k].t })
	return out[:min(len(out), shownEvents)]
}

func eventRowOf(e *snapshot.Event, sys units.System) eventRow {
	row := eventRow{
		Clock: clock(e.Wall), What: "returned to normal", Tone: tone(e.Level), Level: e.Level.Words(),
		Title: words.Alarm(e.Alarm).Title, Raised: e.Raised, First: e.Raised && e.First, t: e.T,
	}
	if row.First {
		row.Moment, row.Key = momentRows(e.Samples, sys), strconv.FormatUint(e.ID, 10)
	}
	if e.Raised {
		row.What = "came up"
		if e.HasCause {
			row.What = "came up under “" + words.Alarm(e.Under).Title + "”"
		}
	}
	if r, ok := e.Alarm.Rule(); ok {
		row.Detail = amount(r, sys, e.Value) + ", limit " + amount(r, sys, e.Limit)
	} else {
		row.Detail = e.Status.Words()
	}
	return row
}
