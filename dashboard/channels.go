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
	// Value is "--" unless the reading is good; Reason then says why.
	Value, Unit, Reason string
	// Note is the driver's own word.
	Note string
	Good bool
}

// channelRows returns the fitted channels, and the names of those that are not.
func channelRows(snap *snapshot.Snapshot, sys units.System) (rows []channelRow, unfitted string) {
	var without []string
	for c := range frame.NumChannels {
		smp := snap.Verdicts.Samples[c]
		if smp.Status == frame.NotFitted {
			without = append(without, strings.ToLower(c.Label()))
			continue
		}
		rows = append(rows, channelRowOf(c, smp, snap.Notes[c], sys))
	}
	return rows, strings.Join(without, "; ")
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
