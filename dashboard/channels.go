package dashboard

import (
	"strings"

	"headroom/daemon/snapshot"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// channelRow is one fitted channel.
type channelRow struct {
	Label, Place string
	// Value is "--" unless the reading is good, or the last one that came and is
	// too old, which Old then says; Reason says why it doesn't count.
	Value, Unit, Reason string
	// Note is the driver's own word.
	Note string
	Good bool
	// Old is how old the value is; empty unless it is shown struck through.
	Old string
}

// channelRows returns the fitted channels, and the names of those that are not.
func (s *server) channelRows(snap *snapshot.Snapshot, sys units.System) (rows []channelRow, unfitted string) {
	var without []string
	for c := range frame.NumChannels {
		smp := snap.Verdicts.Samples[c]
		if smp.Status == frame.NotFitted {
			without = append(without, strings.ToLower(c.Label()))
			continue
		}
		rows = append(rows, s.channelRow(snap, c, sys))
	}
	return rows, strings.Join(without, "; ")
}

// channelRow is a channel's row in a snapshot. A reading that is too old is shown
// and struck through, with its age; one that was never good is not shown at all.
func (s *server) channelRow(snap *snapshot.Snapshot, c frame.Channel, sys units.System) channelRow {
	smp := snap.Verdicts.Samples[c]
	row := channelRowOf(c, smp, snap.Notes[c], sys)
	if smp.Status != frame.Stale {
		return row
	}
	if value, unit, _ := strings.Cut(show(c.Quantity(), sys, smp.Value), " "); value != "--" {
		row.Value, row.Unit, row.Old = value, unit, s.oldFor(snap, c)
	}
	return row
}

// oldLooked is how many readings back the last good one is looked for: a minute
// at ten a second.
const oldLooked = 600

// oldFor says how long ago a channel last read well.
func (s *server) oldFor(snap *snapshot.Snapshot, c frame.Channel) string {
	after := uint64(0)
	if snap.Seq > oldLooked {
		after = snap.Seq - oldLooked
	}
	pts := s.feed.PointsAfter(after)
	for i := len(pts) - 1; i >= 0; i-- {
		if pts[i].Samples[c].OK() {
			return "OLD " + lasting((snap.Mono - pts[i].Mono).Seconds())
		}
	}
	if len(pts) > 0 {
		return "OLD, over " + lasting((snap.Mono - pts[0].Mono).Seconds())
	}
	return "OLD"
}

func channelRowOf(c frame.Channel, smp frame.Sample, note string, sys units.System) channelRow {
	row := channelRow{Label: c.Label(), Place: c.Place(), Value: "--", Note: note, Good: smp.OK()}
	if !smp.OK() {
		row.Reason = smp.Status.Words()
		return row
	}
	row.Value, row.Unit, _ = strings.Cut(show(c.Quantity(), sys, smp.Value), " ")
	if row.Value == "--" {
		row.Good, row.Reason = false, "not a number"
	}
	return row
}
