package whatif

import (
	"cmp"
	"slices"
	"time"

	"headroom/rules/engine"
	"headroom/rules/words"
)

// Alarm is one alarm under one configuration.
type Alarm struct {
	ID    engine.AlarmID
	Level engine.Level
	// Raised is when it came, and Gone when its condition went; valid when
	// HasGone.
	Raised, Gone time.Duration
	HasGone      bool
	// First marks the first-out, Under the cause it stood under; valid when
	// HasCause.
	First    bool
	Under    engine.AlarmID
	HasCause bool
	// Value and Limit of a rule, SI.
	Value, Limit float64
}

// Title is the alarm in words.
func (a *Alarm) Title() string { return words.Alarm(a.ID).Title }

// Kind says how an alarm differs between the two.
type Kind string

// The kinds.
const (
	// Same: it came and went at the same frames.
	Same Kind = "same"
	// Earlier and Later: it comes at another time than it did.
	Earlier Kind = "earlier"
	Later   Kind = "later"
	// Lasting: it comes at the same frame and stands for another time, or with
	// another severity.
	Lasting Kind = "lasting"
	// New: it would come and did not. Gone: it did and would not.
	New  Kind = "new"
	Gone Kind = "gone"
)

// Row is an alarm as it was and as it would be. One of the two may be absent.
type Row struct {
	Kind        Kind
	Then, Other *Alarm
	// Lead is the time that the other configuration wins: positive where the
	// alarm comes earlier; 0 where one of them is absent.
	Lead time.Duration
}

// at is when the row stands in a list.
func (r *Row) at() time.Duration {
	if r.Then == nil {
		return r.Other.Raised
	}
	if r.Other == nil {
		return r.Then.Raised
	}
	return min(r.Then.Raised, r.Other.Raised)
}

// alarm is whichever is there.
func (r *Row) alarm() *Alarm {
	if r.Other != nil {
		return r.Other
	}
	return r.Then
}

// far is how far apart two raisings may lie to be one alarm at two times,
// unless they stood at the same time. Common practice, no source.
const far = 2 * time.Minute

// pair sets the alarms side by side: of each alarm, in the order of time, those
// that stood at the same time or came close to one another.
func pair(then, other []Alarm, end time.Duration) (out []Row) {
	used := make([]bool, len(other))
	for i := range then {
		a := &then[i]
		k := partner(a, other, used, end)
		if k < 0 {
			out = append(out, Row{Kind: Gone, Then: a})
			continue
		}
		used[k] = true
		out = append(out, compared(a, &other[k]))
	}
	for k := range other {
		if !used[k] {
			out = append(out, Row{Kind: New, Other: &other[k]})
		}
	}
	slices.SortStableFunc(out, func(a, b Row) int {
		return cmp.Or(cmp.Compare(a.at(), b.at()), cmp.Compare(a.alarm().ID, b.alarm().ID))
	})
	return out
}

// partner finds the unused raising of the same alarm that is nearest.
func partner(a *Alarm, other []Alarm, used []bool, end time.Duration) int {
	best, dist := -1, time.Duration(0)
	for k := range other {
		b := &other[k]
		if used[k] || b.ID != a.ID {
			continue
		}
		d := (b.Raised - a.Raised).Abs()
		if d > far && (b.Raised > a.until(end) || a.Raised > b.until(end)) {
			continue
		}
		if best < 0 || d < dist {
			best, dist = k, d
		}
	}
	return best
}

func (a *Alarm) until(end time.Duration) time.Duration {
	if a.HasGone {
		return a.Gone
	}
	return end
}

func compared(a, b *Alarm) Row {
	r := Row{Kind: Same, Then: a, Other: b, Lead: a.Raised - b.Raised}
	switch {
	case r.Lead > 0:
		r.Kind = Earlier
	case r.Lead < 0:
		r.Kind = Later
	case a.HasGone != b.HasGone || a.Gone != b.Gone || a.Level != b.Level:
		r.Kind = Lasting
	}
	return r
}
