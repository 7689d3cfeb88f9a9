package dashboard

import (
	"encoding/json"
	"errors"
	"math"
	"net/http"
	"strconv"
	"time"

	"headroom/daemon/snapshot"
	"headroom/rules/alarm"
	"headroom/rules/cavitation"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
	"headroom/rules/trend"
	"headroom/rules/units"
	"headroom/rules/words"
)

// unitNames are the SI units as they stand in the keys of the JSON.
func unitName(q units.Quantity) string {
	switch q {
	case units.Pressure:
		return "pascals"
	case units.Temperature, units.TemperatureDifference:
		return "kelvins"
	case units.FlowRate:
		return "cubic_meters_per_second"
	case units.Current:
		return "amperes"
	case units.Speed:
		return "hertz"
	case units.Voltage:
		return "volts"
	case units.Acceleration:
		return "meters_per_second_squared"
	case units.Fraction:
		return "ratio"
	case units.Head, units.Length, units.Bore:
		return "meters"
	case units.Duration:
		return "seconds"
	case units.Power:
		return "watts"
	case units.Volume:
		return "cubic_meters"
	case units.Energy:
		return "joules"
	case units.Switch:
		return "on"
	}
	return "number"
}

// object is one JSON object; its keys come out in order of the alphabet, so
// that the same state gives the same bytes.
type object map[string]any

// number gives null for what is not known, and never 0.
func number(v float64, known bool) any {
	if !known || math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return v
}

// status is the newest snapshot for programs, in SI.
func (s *server) status(snap *snapshot.Snapshot) object {
	vd := &snap.Verdicts
	o := object{
		"version": 1, "start": s.feed.Start(), "seq": snap.Seq, "machine_name": s.opt.MachineName, "source": s.opt.Source,
		"wall": snap.Wall.UTC().Format(time.RFC3339Nano), "age_seconds": s.age(snap).Seconds(), "uptime_seconds": snap.Mono.Seconds(),
		"machine_state": vd.Machine.String(), "machine_state_seconds": (snap.Mono - vd.MachineSince).Seconds(),
		"level": vd.Level.String(), "blind_rules": vd.Blind, "gap": vd.Gap,
		"headline": words.Headline(vd.Level, vd.Blind), "alarms_calling": vd.Calling, "alarm_flood": vd.Flood,
		"system_alarms": systemObjects(snap),
		"channels":      channelObjects(snap), "rules": s.ruleObjects(vd), "alarms": alarmObjects(snap),
		"totals": totalsObject(&snap.Totals), "cavitation_signs": signsNow(vd),
		"health": object{
			"late_ticks": snap.Health.LateTicks, "record_dropped": snap.Health.RecordDropped,
			"record_error": snap.Health.RecordError, "driver_restarts": snap.Health.Restarts,
		},
	}
	return o
}

func channelObjects(snap *snapshot.Snapshot) []object {
	var out []object
	for c := range frame.NumChannels {
		smp := snap.Verdicts.Samples[c]
		o := object{
			"channel": c.String(), "label": c.Label(), "place": c.Place(),
			"status": smp.Status.String(), "note": snap.Notes[c],
		}
		if c.Digital() {
			o["on"] = nil
			if smp.OK() {
				o["on"] = smp.On()
			}
		} else {
			o["value_"+unitName(c.Quantity())] = number(smp.Value, smp.OK())
		}
		out = append(out, o)
	}
	return out
}

func (s *server) ruleObjects(vd *engine.Verdicts) []object {
	var out []object
	for i := range vd.Rules {
		r, v := engine.RuleID(i), &vd.Rules[i]
		spec, on := r.Spec(), v.Judge == engine.Watching
		unit, diff, timed := unitName(spec.Quantity), unitName(spec.Difference), on && v.Sure != trend.None
		o := object{
			"rule": r.String(), "label": words.Rule(r), "judge": v.Judge.String(), "level": v.Level.String(),
			"blame": nil, "about": nil, "cause": v.Cause.String(), "assumed": v.Assumed, "used": usedObjects(v),
			"value_" + unit: number(v.Value, on), "limit_" + unit: number(v.Limit, on),
			"headroom_" + diff: number(v.Headroom, on), "headroom_share": number(v.Share, on),
			"to_limit_seconds": number(v.TimeToS, timed), "to_limit_earliest_seconds": number(v.EarliestS, timed),
			"to_limit_latest_seconds": number(v.LatestS, timed), "to_limit_sure": v.Sure.String(),
		}
		if v.Blame < frame.NumChannels && !on {
			o["blame"] = v.Blame.String()
		}
		if v.About < frame.NumChannels && on {
			o["about"] = v.About.String()
		}
		if s.opt.Limits != nil {
			o["limit_source"] = s.opt.Limits[i].Source
		}
		out = append(out, o)
	}
	return out
}

func usedObjects(v *engine.Verdict) []object {
	out := []object{}
	for _, u := range v.Used() {
		out = append(out, object{"term": u.Term.String(), unitName(u.Term.Quantity()): number(u.Value, true), "assumed": u.Assumed})
	}
	return out
}

// signObjects are the signs that the cavitation rule weighed. A sign's unit is
// metres, kelvins or none.
func signObjects(e *engine.Evidence) []object {
	out := []object{}
	for i := range e {
		item, known := cavitation.Item(i), e[i].State == cavitation.Silent || e[i].State == cavitation.Speaks
		out = append(out, object{
			"sign": item.String(), "state": e[i].State.String(), "unit": item.Unit(),
			"quantity": number(e[i].Quantity, known), "limit": number(e[i].Limit, known),
		})
	}
	return out
}

func alarmObjects(snap *snapshot.Snapshot) []object {
	out := []object{}
	for i := range snap.Verdicts.Alarms {
		st := &snap.Verdicts.Alarms[i]
		if !st.Active && st.Phase == alarm.Normal {
			continue
		}
		t := words.Alarm(engine.AlarmID(i))
		o := object{
			"alarm": engine.AlarmID(i).String(), "level": st.Level.String(), "first_out": st.FirstOut, "active": st.Active,
			"phase": st.Phase.String(), "calls": calls(st.Phase), "chatter": st.Chatter, "under": nil, "shelf_left_seconds": nil,
			"since_seconds": (snap.Mono - st.Since).Seconds(), "onset_seconds": (snap.Mono - st.Onset).Seconds(),
			"title": t.Title, "cause": t.Cause, "consequence": t.Consequence, "action": t.Action,
		}
		if st.HasCause {
			o["under"] = st.Under.String()
		}
		if st.Phase == alarm.Shelved {
			o["shelf_left_seconds"] = (st.ShelvedUntil - snap.Mono).Seconds()
		}
		out = append(out, o)
	}
	return out
}

// signsNow are the signs that the cavitation rule weighed; none while it
// doesn't judge, when they would say nothing.
func signsNow(vd *engine.Verdicts) []object {
	if vd.Rules[engine.Cavitation].Judge != engine.Watching {
		return []object{}
	}
	return signObjects(&vd.Evidence)
}

func totalsObject(t *engine.Totals) object {
	states := object{}
	for st := range machine.NumStates {
		states[st.String()] = t.InStateS[st]
	}
	return object{
		"frames": t.Frames, "rejected": t.Rejected, "gaps": t.Gaps, "starts": t.Starts,
		"water_cubic_meters": number(t.WaterM3, t.FlowS > 0), "energy_joules": number(t.EnergyJ, true), "state_seconds": states,
	}
}

func eventObject(e *snapshot.Event) object {
	t := words.Alarm(e.Alarm)
	o := object{
		"id": e.ID, "wall": e.Wall.UTC().Format(time.RFC3339Nano), "uptime_seconds": e.T.Seconds(), "onset_uptime_seconds": e.Onset.Seconds(),
		"alarm": e.Alarm.String(), "raised": e.Raised, "level": e.Level.String(), "first_out": e.First,
		"machine_state": e.Machine.String(), "title": t.Title, "action": t.Action, "phase": e.Phase.String(), "under": nil,
	}
	if e.HasCause {
		o["under"] = e.Under.String()
	}
	if r, ok := e.Alarm.Rule(); ok {
		unit := unitName(r.Spec().Quantity)
		o["value_"+unit], o["limit_"+unit] = number(e.Value, true), number(e.Limit, true)
	} else {
		o["sensor_status"] = e.Status.String()
	}
	return o
}

// statusJSON answers with the newest snapshot, or 503 before the first tick.
func (s *server) statusJSON(w http.ResponseWriter, _ *http.Request) {
	snap := s.feed.Latest()
	if snap == nil {
		s.writeJSON(w, http.StatusServiceUnavailable, object{"error": "no tick yet"})
		return
	}
	s.writeJSON(w, http.StatusOK, s.status(snap))
}

// eventsJSON answers with the alarms' events after an id, oldest first. The
// store keeps the last few hundred; the record holds them all.
func (s *server) eventsJSON(w http.ResponseWriter, r *http.Request) {
	after, ok := s.afterOf(w, r)
	if !ok {
		return
	}
	out := []object{}
	evs := since(after, s.feed.Events, func(e *snapshot.Event) uint64 { return e.ID })
	for i := range evs {
		out = append(out, eventObject(&evs[i]))
	}
	s.writeJSON(w, http.StatusOK, object{"version": 1, "start": s.feed.Start(), "events": out})
}

// since returns what is newer than an id. An id above all that there are is one
// from before a restart, and all is new to whoever hands it back.
func since[E any](after uint64, read func(uint64) []E, id func(*E) uint64) []E {
	out := read(after)
	if len(out) > 0 || after == 0 {
		return out
	}
	all := read(0)
	if n := len(all); n > 0 && id(&all[n-1]) >= after {
		return nil
	}
	return all
}

// afterOf reads the id that a reader has come to, 0 for none, and for one of
// another start of the program than this. It answers itself where that is no
// number.
func (s *server) afterOf(w http.ResponseWriter, r *http.Request) (after uint64, ok bool) {
	q := r.URL.Query().Get("after")
	if q == "" {
		return 0, true
	}
	after, err := strconv.ParseUint(q, 10, 64)
	if err != nil {
		s.writeJSON(w, http.StatusBadRequest, object{"error": "after must be the id of an event, a whole number"})
		return 0, false
	}
	if start := r.URL.Query().Get("start"); start != "" && start != s.feed.Start() {
		return 0, true
	}
	return after, true
}

func (s *server) writeJSON(w http.ResponseWriter, code int, data any) {
	body, err := json.Marshal(data)
	if err != nil {
		s.log.Error("cannot write JSON", "err", err)
		http.Error(w, "the answer cannot be made; the program's log says why", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(code)
	_, _ = w.Write(append(body, '\n')) // A reader who left is no fault.
}

func notSupported(err error) bool { return errors.Is(err, http.ErrNotSupported) }
