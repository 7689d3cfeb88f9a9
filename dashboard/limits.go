package dashboard

import (
	"math"
	"sort"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/trend"
	"headroom/rules/units"
	"headroom/rules/words"
)

// limitRow is one limit on the common scale of headroom.
type limitRow struct {
	Name, Tone, Word string
	// Amount is the headroom and Side what it is: left, over or short. Value
	// and Limit are what it is made of.
	Amount, Side, Value, Limit string
	// Time until the limit, Range and Sure behind it; empty when there is none.
	Time, Range, Sure string
	// Reason is set where the rule should judge and can't; there is then no
	// number at all.
	Reason string
	// Cause is what it looks like, where the rule can tell.
	Cause   string
	Assumed bool
	// Ample rows say less on a small screen.
	Ample bool
	Bar   bar

	rule engine.RuleID
	// near orders the rows, the nearest limit first.
	near float64
	// distance is false for a rule that knows only yes and no, or a grade.
	distance bool
}

// figure is a number apart from its unit, which the answer writes smaller: it
// is the number that must be read from two metres.
type figure struct{ Number, Unit string }

func figureOf(text string) figure {
	if text == "" || !strings.ContainsAny(text[:1], "-0123456789") {
		return figure{Number: text}
	}
	n, unit, _ := strings.Cut(text, " ")
	return figure{n, unit}
}

// BigAmount and BigTime are the headroom and the time to the limit for the
// answer.
func (row *limitRow) BigAmount() figure { return figureOf(row.Amount) }
func (row *limitRow) BigTime() figure   { return figureOf(row.Time) }

// idleRow is a reason why rules have nothing to judge now, and those rules.
type idleRow struct{ Reason, Names string }

// bar is a row's place on the scale, in percent of its width.
type bar struct {
	// From and Width of the headroom's bar, At of its end.
	From, Width, At string
	// Warn is the inner limit's place; empty when there is none on the scale.
	Warn string
	// Ahead and AheadWidth show the way the value will go in one minute.
	Ahead, AheadWidth string
	Over              bool
	// Label for those who cannot see it.
	Label string
}

// limitRows returns the rows that judge, or should, nearest limit first, and
// the rules that have nothing to judge.
func (s *server) limitRows(snap *snapshot.Snapshot, sys units.System) ([]limitRow, []idleRow) {
	var rows []limitRow
	var idle []idleRow
	for i := range snap.Verdicts.Rules {
		v := &snap.Verdicts.Rules[i]
		r := engine.RuleID(i)
		switch {
		case v.Judge == engine.Watching:
			rows = append(rows, s.watchingRow(r, v, sys))
		case v.Judge.Answers():
			rows = append(rows, wordsRow(r, v))
		case v.Judge.Blind():
			rows = append(rows, blindRow(r, v, snap))
		default:
			idle = noteIdle(idle, r, v)
		}
	}
	sort.SliceStable(rows, func(i, k int) bool { return rows[i].near < rows[k].near })
	return rows, idle
}

func (s *server) watchingRow(r engine.RuleID, v *engine.Verdict, sys units.System) limitRow {
	spec := r.Spec()
	row := limitRow{
		rule: r, Name: words.Rule(r), Tone: tone(v.Level), Assumed: v.Assumed, near: nearness(v), distance: true,
		Amount: show(spec.Difference, sys, math.Abs(v.Headroom)), Side: side(v, spec),
		Value: amount(r, sys, v.Value),
		Limit: amount(r, sys, v.Limit),
		Bar:   s.bar(r, v),
	}
	if v.About < frame.NumChannels {
		row.Name += ": " + strings.ToLower(v.About.Label())
	}
	switch {
	case v.Level != engine.Normal:
		row.Word = v.Level.Words()
	case v.Share <= 0:
		row.Tone, row.Word = "watch", "Limit passed"
	}
	row.Time, row.Range, row.Sure = timeTo(v)
	row.Cause, _ = words.Cause(v.Cause)
	row.Ample = v.Share >= 1 && v.Level == engine.Normal && row.Time == ""
	if spec.Quantity == units.Switch {
		row.asSwitch(v)
	}
	if word, ok := words.Grade(r, v.Value); ok {
		row.Amount, row.Side, row.distance = word, "", false
	}
	return row
}

// ampleS is as much time as ample headroom is room: ten minutes are enough to
// end a job in order (common practice, no source).
const ampleS = 600

// nearness orders limits by what is left, in room or in time: one that is clearly
// approached and will be reached in a minute is nearer than one with little room
// that nothing approaches.
func nearness(v *engine.Verdict) float64 {
	if v.Sure != trend.High || v.Share <= 0 || bad(v.TimeToS) {
		return v.Share
	}
	return math.Min(v.Share, math.Max(v.TimeToS, 0)/ampleS)
}

// asSwitch words a rule that knows only yes and no: a distance says nothing.
func (row *limitRow) asSwitch(v *engine.Verdict) {
	row.Amount, row.Side, row.Value, row.Limit, row.distance = "in order", "", "", "", false
	if v.Share <= 0 {
		row.Amount = "not in order"
	}
}

// side tells room that is left from a limit that is passed.
func side(v *engine.Verdict, spec engine.Spec) string {
	switch {
	case v.Headroom >= 0:
		return "left"
	case spec.HighIsBad:
		return "over"
	}
	return "short"
}

// timeTo writes the time until the limit with its range and how sure it is.
func timeTo(v *engine.Verdict) (about, between, sure string) {
	if v.Sure == trend.None || v.Share <= 0 || bad(v.TimeToS) {
		return "", "", ""
	}
	about, sure = roughly(v.TimeToS), "trend unsure"
	if v.Sure == trend.High {
		sure = "trend clear"
	}
	lo, hi := roughly(v.EarliestS), roughly(v.LatestS)
	if lo != hi {
		between = lo + " to " + hi
	}
	return about, between, sure
}

func bad(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) }

// wordsRow is a rule whose answer is no number: at this load the breaker may
// trip, or hold for ever.
func wordsRow(r engine.RuleID, v *engine.Verdict) limitRow {
	row := limitRow{rule: r, Name: words.Rule(r), Tone: "normal", Word: "May trip", Reason: sentence(v.Judge.Words()), near: 1}
	if v.Judge == engine.MayTripNow {
		row.Tone, row.near = "watch", 0.002
	}
	if v.Level != engine.Normal {
		row.Tone, row.Word = tone(v.Level), v.Level.Words()
	}
	return row
}

// blindRow stands among the limits and not below them: a limit that nobody
// watches is nearer than one with room left.
func blindRow(r engine.RuleID, v *engine.Verdict, snap *snapshot.Snapshot) limitRow {
	reason := strings.TrimPrefix(v.Judge.Words(), "cannot judge: ")
	if c := v.Blame; v.Judge == engine.OutsideModel {
		reason = words.Outside(c)
	} else if c < frame.NumChannels {
		reason += " of " + strings.ToLower(c.Label())
		if st := snap.Verdicts.Samples[c].Status; st != frame.Good {
			reason += " (" + st.Words() + ")"
		}
	}
	row := limitRow{rule: r, Name: words.Rule(r), Tone: tone(v.Level), Word: "Cannot judge", Reason: sentence(reason), near: 0.001}
	if v.Level == engine.Normal {
		row.Tone = "unknown"
	} else {
		row.Word = v.Level.Words() + " stands, cannot judge"
	}
	return row
}

// noteIdle adds a rule under its reason; few machines have a sensor for every
// rule, and a line for each would bury the others.
func noteIdle(rows []idleRow, r engine.RuleID, v *engine.Verdict) []idleRow {
	name, reason := words.Rule(r), sentence(strings.TrimPrefix(v.Why(), "not watching: "))
	if c := v.Blame; c < frame.NumChannels && v.Judge == engine.NotFitted {
		name += " (" + strings.ToLower(c.Label()) + ")"
	}
	for i := range rows {
		if rows[i].Reason == reason {
			rows[i].Names += "; " + name
			return rows
		}
	}
	return append(rows, idleRow{reason, name})
}

func sentence(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:]
}

// The scale: the limit stands at zeroAt, ample headroom at fullAt; what is
// left of zeroAt is beyond the limit.
const zeroAt, fullAt = 14.0, 98.0

func place(share float64) float64 {
	return math.Min(math.Max(zeroAt+float64(share*(fullAt-zeroAt)), 2), fullAt)
}

func (s *server) bar(r engine.RuleID, v *engine.Verdict) bar {
	at := place(v.Share)
	b := bar{
		From: pct(math.Min(at, zeroAt)), Width: pct(math.Abs(at - zeroAt)), At: pct(at),
		Over:  v.Share <= 0,
		Label: "Headroom " + strconv.FormatFloat(100*v.Share, 'f', 0, 64) + " % of ample",
	}
	if share, ok := s.warnShare(r); ok {
		b.Warn = pct(place(share))
	}
	if about, _, _ := timeTo(v); about != "" && v.TimeToS > 0 {
		then := place(v.Share * (1 - math.Min(60/v.TimeToS, 1)))
		b.Ahead, b.AheadWidth = pct(then), pct(at-then)
	}
	return b
}

// warnShare returns where the inner limit lies on the scale.
func (s *server) warnShare(r engine.RuleID) (share float64, ok bool) {
	if s.opt.Limits == nil {
		return 0, false
	}
	l := &s.opt.Limits[r]
	if !l.On || !l.HasWarn || !l.HasAct || l.Span <= 0 {
		return 0, false
	}
	share = math.Abs(l.Warn-l.Act) / l.Span
	return share, share > 0 && share <= 1
}

// pct writes a share of the width; one decimal is a third of a pixel.
func pct(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) + "%" }
