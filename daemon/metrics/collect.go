package metrics

import (
	"math"

	"headroom/daemon/snapshot"
	"headroom/rules/alarm"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/trend"
	"headroom/rules/units"
)

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func (c *Collector) channels(s sink, snap *snapshot.Snapshot, fresh bool) {
	for ch := range frame.NumChannels {
		smp := snap.Verdicts.Samples[ch]
		if !fresh && smp.Status != frame.NotFitted {
			smp.Status = frame.Stale
		}
		for st := range frame.NumStatuses {
			s.gauge(c.d.status, truth(smp.Status == st), ch.String(), st.String())
		}
		d, known := c.d.values[ch.Quantity()]
		if !known || !smp.OK() || !finite(smp.Value) {
			continue
		}
		v := smp.Value
		if ch.Quantity() == units.Temperature {
			v = units.For(units.Temperature, units.SI).FromSI(v)
		}
		s.gauge(d, v, ch.String())
	}
}

func (c *Collector) rules(s sink, snap *snapshot.Snapshot, fresh bool) {
	s.gauge(c.d.blind, float64(snap.Verdicts.Blind))
	for i := range snap.Verdicts.Rules {
		v, name := &snap.Verdicts.Rules[i], engine.RuleID(i).String()
		judge := v.Judge
		if !fresh && judge == engine.Watching {
			judge = engine.NoReading
		}
		for j := engine.NotFitted; j <= engine.MayBypass; j++ {
			s.gauge(c.d.judge, truth(judge == j), name, j.String())
		}
		if judge == engine.Watching {
			c.headroom(s, v, engine.RuleID(i))
		}
		x := &snap.Totals.Exposures[i]
		s.counter(c.d.watched, x.WatchedS, name)
		s.counter(c.d.blindTime, x.BlindS, name)
		s.counter(c.d.beyond, x.BeyondWarnS, name, "warn")
		s.counter(c.d.beyond, x.BeyondActS, name, "act")
	}
}

func (c *Collector) headroom(s sink, v *engine.Verdict, r engine.RuleID) {
	if finite(v.Share) {
		s.gauge(c.d.share, v.Share, r.String())
	}
	if d, ok := c.d.margins[r.Spec().Difference]; ok && finite(v.Headroom) {
		s.gauge(d, v.Headroom, r.String())
	}
	if v.Sure != trend.None && finite(v.TimeToS) && finite(v.EarliestS) {
		s.gauge(c.d.timeTo, v.TimeToS, r.String())
		s.gauge(c.d.timeToEarliest, v.EarliestS, r.String())
	}
}

// alarms sends one series for each alarm and level it could have, so that an
// alarm that goes back reads 0 and does not vanish.
func (c *Collector) alarms(s sink, snap *snapshot.Snapshot) {
	for i := range snap.Verdicts.Alarms {
		st, name := &snap.Verdicts.Alarms[i], engine.AlarmID(i).String()
		for l := engine.Advice; l <= engine.Act; l++ {
			s.gauge(c.d.alarm, truth(st.Active && st.Level == l), name, l.String())
		}
		s.counter(c.d.raised, float64(snap.Totals.Raised[i]), name)
		if st.Phase != alarm.Normal || snap.Totals.Raised[i] > 0 {
			c.phases(s, st.Phase, name)
		}
	}
	s.gauge(c.d.calling, float64(snap.Verdicts.Calling))
	s.gauge(c.d.flood, truth(snap.Verdicts.Flood))
	s.counter(c.d.annunciations, float64(snap.Totals.Annunciated))
}

// phases sends one alarm's phases. Sixty alarms with nine phases each would be
// more series than all else together, so an alarm that nobody has ever seen
// has none.
func (c *Collector) phases(s sink, now alarm.Phase, name string) {
	for p := alarm.Normal + 1; p < alarm.NumPhases; p++ {
		s.gauge(c.d.phase, truth(now == p), name, p.String())
	}
}

// acts sends what people did, which no snapshot holds.
func (c *Collector) acts(s sink) {
	for a, n := range c.store.ActTotals() {
		s.counter(c.d.acts, float64(n), alarm.Act(a).String())
	}
}

func (c *Collector) machine(s sink, snap *snapshot.Snapshot, fresh bool) {
	state := snap.Verdicts.Machine
	if !fresh {
		state = machine.Unknown
	}
	for st := range machine.NumStates {
		s.gauge(c.d.state, truth(state == st), st.String())
		s.counter(c.d.stateTime, snap.Totals.InStateS[st], st.String())
	}
	s.counter(c.d.starts, float64(snap.Totals.Starts))
	if snap.Verdicts.Samples[frame.Flow].Status != frame.NotFitted {
		s.counter(c.d.water, snap.Totals.WaterM3)
	}
	s.counter(c.d.energy, snap.Totals.EnergyJ)
}

func (c *Collector) daemon(s sink, snap *snapshot.Snapshot) {
	s.gauge(c.d.uptime, snap.Mono.Seconds())
	s.counter(c.d.ticks, float64(snap.Totals.Frames))
	s.counter(c.d.rejected, float64(snap.Totals.Rejected))
	s.counter(c.d.gaps, float64(snap.Totals.Gaps))
	s.counter(c.d.late, float64(snap.Health.LateTicks))
	s.counter(c.d.dropped, float64(snap.Health.RecordDropped))
	s.gauge(c.d.failing, truth(snap.Health.RecordError != ""))
	s.counter(c.d.restart, float64(snap.Health.Restarts))
	c.system(s, snap)
	for _, n := range snap.Health.Notify {
		s.counter(c.d.notifySent, float64(n.Sent), n.Name)
		s.counter(c.d.notifyFailed, float64(n.Failures), n.Name)
		s.counter(c.d.notifyDropped, float64(n.Dropped), n.Name)
		s.gauge(c.d.notifyWaiting, float64(n.Waiting), n.Name)
	}
}

// system sends one series for each alarm about the program itself and each
// level it could have.
func (c *Collector) system(s sink, snap *snapshot.Snapshot) {
	var stands [snapshot.NumSystemIDs]engine.Level
	for _, a := range snap.Health.System {
		if a.ID < snapshot.NumSystemIDs {
			stands[a.ID] = max(stands[a.ID], a.Level)
		}
	}
	for id := range snapshot.NumSystemIDs {
		for l := engine.Advice; l <= engine.Act; l++ {
			s.gauge(c.d.system, truth(stands[id] == l), id.String(), l.String())
		}
	}
}
