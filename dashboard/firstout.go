package dashboard

import (
	"fmt"
	"time"

	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// momentRow is one channel as it read when the first alarm came up.
type momentRow struct{ Label, Value string }

// momentRows returns the fitted channels of a moment; nothing without one. What
// couldn't be trusted then is told by its status and gets no figure.
func momentRows(at *[frame.NumChannels]frame.Sample, sys units.System) []momentRow {
	if at == nil {
		return nil
	}
	var out []momentRow
	for c := range frame.NumChannels {
		smp := at[c]
		if smp.Status == frame.NotFitted {
			continue
		}
		row := momentRow{c.Label(), "-- (" + smp.Status.Words() + ")"}
		if smp.OK() {
			row.Value = show(c.Quantity(), sys, smp.Value)
		}
		out = append(out, row)
	}
	return out
}

// momentOf returns the readings of the moment an alarm that came first came up;
// nothing where that was before the program's start.
func momentOf(evs []snapshot.Event, id engine.AlarmID, sys units.System) []momentRow {
	for i := len(evs) - 1; i >= 0; i-- {
		if e := &evs[i]; e.Alarm == id && e.Raised && e.First {
			return momentRows(e.Samples, sys)
		}
	}
	return nil
}

// laterWords number the alarms that stand after the one that came first, by
// when they began; empty for that one, and where it doesn't stand any more.
func laterWords(snap *snapshot.Snapshot, id engine.AlarmID) string {
	all := &snap.Verdicts.Alarms
	me, n, first := &all[id], 2, -1
	for i := range all {
		a := &all[i]
		switch {
		case !a.Active || engine.AlarmID(i) == id:
		case a.FirstOut:
			first = i
		case a.Onset < me.Onset || a.Onset == me.Onset && engine.AlarmID(i) < id:
			n++
		}
	}
	if first < 0 || me.FirstOut || !me.Active {
		return ""
	}
	if later := me.Onset - all[first].Onset; later >= 0 {
		return fmt.Sprintf("%s, %.1f s later", ordinal(n), later.Round(100*time.Millisecond).Seconds())
	}
	return ordinal(n)
}

func ordinal(n int) string {
	switch {
	case n%10 == 1 && n%100 != 11:
		return fmt.Sprintf("%dst", n)
	case n%10 == 2 && n%100 != 12:
		return fmt.Sprintf("%dnd", n)
	case n%10 == 3 && n%100 != 13:
		return fmt.Sprintf("%drd", n)
	}
	return fmt.Sprintf("%dth", n)
}
