package review

import (
	"context"
	"slices"
	"strconv"
	"time"

	"headroom/daemon/config"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/rules/words"
)

// tellLimits tells what the record can not tell. Each line stands only where
// it holds for this very record.
func (t *teller) tellLimits(ctx context.Context, r Record) error {
	t.limitFrames()
	t.limitEnd()
	t.limitClock()
	t.limitConfig()
	t.limitFitted()
	t.limitTrust()
	t.limitBlind()
	if t.unsearched > 0 {
		t.limit(t.head.From, t.head.To, t.onRecord("episodes", "Around "+plural(t.unsearched, "later alarm", "later alarms")+
			" no changes were looked for: there were too many alarms."))
	}
	t.limitPeople()
	return t.limitDeleted(ctx, r)
}

// onRecord is a line that rests on what the record says of itself.
func (t *teller) onRecord(name, words string) *telling {
	return say(KindLimit, words).rests(Evidence{
		Basis: OnRecord, Channel: frame.NumChannels, From: t.head.From, To: t.head.To, Name: name,
	})
}

func (t *teller) limitFrames() {
	absent := &t.walked.absent
	t.lostTime("thinned", absent.thinned, " the frames were given up to make room; only the least, the greatest and the mean of each half minute are left. Short events there can't be timed.")
	t.lostTime("damaged", absent.damaged, " the frames are damaged. What happened then is not known, beyond the alarms.")
	t.lostTime("missing", absent.missing, " no frames were recorded. What happened then is not known.")
	if t.walked.frames == 0 {
		t.limit(t.head.From, t.head.To, t.onRecord("frames", "The record holds no frames of this time at full rate: nothing here rests on single readings."))
	}
}

func (t *teller) lostTime(name string, d time.Duration, rest string) {
	if d <= 0 {
		return
	}
	s := say(KindLimit, "For ").amount(units.Duration, d.Seconds()).words(rest)
	t.limit(t.head.From, t.head.To, s.rests(Evidence{Basis: OnRecord, Channel: frame.NumChannels, From: t.head.From, To: t.head.To, Name: name}))
}

func (t *teller) limitEnd() {
	h := &t.head
	switch h.Ended {
	case "cut":
		t.limit(h.End, h.End, t.onRecord("run.ended", "The record breaks off with the power. Up to a second of frames before that may be missing, and what came after is not known."))
	case "":
		if h.ID.N > 0 {
			t.limit(h.End, h.End, t.onRecord("run.ended", "The run was not over when this was read."))
		}
	}
	if through := t.run.Summary.Through; h.ID.N > 0 && through < h.End {
		s := say(KindLimit, "The sums (times, water, energy, exposures) leave out the last ").
			amount(units.Duration, (h.End - through).Seconds()).words(" of the run.")
		t.limit(through, h.End, s.rests(Evidence{Basis: OnRecord, Channel: frame.NumChannels, From: through, To: h.End, Name: "summary.through"}))
	}
}

func (t *teller) limitClock() {
	text := ""
	switch t.head.Clock {
	case ClockUnknown:
		text = "The time of day: the board's clock was not set. Times count from the start of the run; their order and distances are sure."
	case ClockUnchecked:
		text = "Whether the time of day is right: it is what the board's clock said, which nothing checked. The order and the distances of times are sure."
	case ClockByPerson:
		text = "Whether the time of day is right to the minute: a person set it. The order and the distances of times are sure."
	default:
		return
	}
	t.limit(t.head.From, t.head.To, t.onRecord("clock", text))
}

func (t *teller) limitConfig() {
	switch {
	case !t.head.HasConfig:
		t.limit(t.head.From, t.head.To, t.onRecord("config", "What the machine was doing at each moment, and under which settings it was judged: the record does not hold the settings in force."))
	case t.cfg == nil:
		t.limit(t.head.From, t.head.To, t.onRecord("config", "What the machine was doing at each moment: this version can't read the settings in force then."))
	}
}

// missing says what is not known without a channel.
var missing = []struct {
	ch    frame.Channel
	words string
}{
	{frame.OutletPressure, "No outlet pressure was measured: nozzle, unloader and high-pressure hose can't be judged."},
	{frame.InletPressure, "No inlet pressure was measured: whether the supply starved the pump can't be told."},
	{frame.Flow, "No flow was measured: dry running, water used and leakage can't be told."},
	{frame.WaterTemp, "No water temperature was measured: overheating of the seals can't be told."},
	{frame.MotorCurrent, "No motor current was measured: load on motor and circuit can't be told."},
	{frame.SupplyVoltage, "No voltage was measured: a weak supply can't be told from a heavy load, and the energy is not known."},
	{frame.ShaftSpeed, "No shaft speed was measured: whether the pump turned is told from other readings."},
	{frame.Running, "The switch was not watched: when somebody switched off is not known, and how long the pump ran on after an alarm includes its running down."},
	{frame.Trigger, "The trigger was not watched: a closed outlet is told from the flow, and not who or what closed it."},
	{frame.Vibration, "No vibration was measured: damage to bearings and valves does not show directly."},
}

// outletUntold takes the trigger's place in the list where no flow was measured
// either.
const outletUntold = "Neither the trigger nor the flow was watched: a closed outlet, and water that goes round and heats in it, can't be told."

func (t *teller) limitFitted() {
	if t.walked.frames == 0 {
		return
	}
	for _, m := range missing {
		if m.ch == frame.Trigger && !t.walked.fitted[frame.Flow] {
			m.words = outletUntold
		}
		if !t.walked.fitted[m.ch] && !(t.cfg != nil && t.cfg.Drive == config.EngineDriven && electric(m.ch)) {
			s := say(KindLimit, m.words).rests(Evidence{Basis: OnRecord, Channel: m.ch, From: t.head.From, To: t.head.To, Name: "not_fitted"})
			t.limit(t.head.From, t.head.To, s)
		}
	}
}

// electric channels say nothing of a machine with a combustion engine.
func electric(ch frame.Channel) bool {
	return ch == frame.MotorCurrent || ch == frame.SupplyVoltage
}

// limitTrust adds up for each channel how long it could not be used.
func (t *teller) limitTrust() {
	for ch := range frame.NumChannels {
		all := &t.walked.trust[ch]
		if all.sum < time.Second {
			continue
		}
		var seen []string
		for _, st := range all.statuses {
			if w := st.Words(); !slices.Contains(seen, w) {
				seen = append(seen, w)
			}
		}
		s := say(KindLimit, ch.Label()+" is not known for ").amount(units.Duration, all.sum.Seconds()).words(" in all (" + join(seen) + ").")
		if all.count > maxDoubts {
			s.words(" It was lost " + times(all.count) + ", and only the first " + strconv.Itoa(maxDoubts) + " are told of one by one.")
		}
		t.limit(t.head.From, t.head.To, s.rests(Evidence{Basis: OnRecord, Channel: ch, From: t.head.From, To: t.head.To, Name: "untrusted"}))
	}
}

func join(words []string) string {
	out := ""
	for i, w := range words {
		if i > 0 {
			out += "; "
		}
		out += w
	}
	return out
}

// limitBlind names the rules that could not judge for some time.
func (t *teller) limitBlind() {
	if t.head.ID.N == 0 {
		t.limit(t.head.From, t.head.To, t.onRecord("summary", "Exposures, water and energy are summed up for runs only, and this is none."))
		return
	}
	for r := range engine.NumRules {
		x, ok := t.run.Summary.Sums.Exposures[r.String()]
		if !ok || x.BlindS < 1 {
			continue
		}
		s := say(KindLimit, words.Rule(r)+" could not be judged for ").
			shown(units.Duration, onSum("exposure."+r.String()+".blind_s", t.head.Start, t.head.End, x.BlindS)).words(".")
		t.limit(t.head.Start, t.head.End, s)
	}
}

func (t *teller) limitPeople() {
	for i := range t.acts {
		if t.acts[i].Who != "" {
			t.limit(t.head.From, t.head.To, t.onRecord("acts.who", "Who people were: names are as they typed them, and nobody checked them."))
			break
		}
	}
	t.limit(t.head.From, t.head.To, t.onRecord("causes", "Why anything happened: readings show what changed and in which order, and a cause only where a sensor sees it. Parts that no sensor sees may have failed without a trace."))
}

// limitDeleted tells where bookkeeping itself was shortened.
func (t *teller) limitDeleted(ctx context.Context, r Record) error {
	all, err := r.Deletions(ctx)
	if err != nil {
		return err
	}
	for i := range all {
		d := &all[i]
		if d.Boot == t.head.ID.Boot && d.What != "frames" && d.From <= t.head.To && d.To >= t.head.From {
			t.limit(max(d.From, t.head.From), min(d.To, t.head.To), t.onRecord("deleted", "Part of what was recorded then ("+d.What+") was deleted: "+d.Why+"."))
		}
	}
	return nil
}
