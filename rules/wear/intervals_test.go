package wear_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/rules/wear"
)

const hour = 3600.0

func TestAssess(t *testing.T) {
	oil := wear.Interval{FirstS: 50 * hour, EveryS: 300 * hour}
	both := wear.Interval{EveryS: 100 * hour, EveryStarts: 1000}
	each := wear.Interval{EveryUses: 1}
	at := func(h float64, starts, uses uint32) wear.Counters {
		return wear.Counters{RunS: h * hour, Starts: starts, Uses: uses}
	}
	done := func(c wear.Counters) wear.Service { return wear.Service{Done: true, At: c} }
	for _, c := range []struct {
		name string
		v    wear.Interval
		s    wear.Service
		now  wear.Counters
		want wear.DueStatus
		left float64
	}{
		{"new pump", oil, wear.Service{}, at(10, 0, 0), wear.DueOK, 40},
		{"first change near", oil, wear.Service{}, at(46, 0, 0), wear.DueSoon, 4},
		{"first change due", oil, wear.Service{}, at(50, 0, 0), wear.DueNow, 0},
		{"overdue", oil, wear.Service{}, at(61, 0, 0), wear.DueNow, -11},
		{"after the first", oil, done(at(50, 0, 0)), at(61, 0, 0), wear.DueOK, 289},
		{"next near", oil, done(at(50, 0, 0)), at(325, 0, 0), wear.DueSoon, 25},
		{"by starts first", both, done(at(0, 0, 0)), at(1, 1000, 0), wear.DueNow, 99},
		{"by time first", both, done(at(0, 0, 0)), at(100, 10, 0), wear.DueNow, 0},
		{"neither", both, done(at(0, 0, 0)), at(1, 10, 0), wear.DueOK, 99},
		{"this use not looked at", each, done(at(0, 0, 6)), at(0, 0, 7), wear.DueNow, 0},
		{"this use looked at", each, done(at(0, 0, 7)), at(0, 0, 7), wear.DueOK, 0},
		{"off", wear.Interval{}, wear.Service{}, at(900, 0, 0), wear.DueOff, 0},
		{"counters set back", oil, done(at(50, 0, 0)), at(3, 0, 0), wear.DueUnknown, 0},
		{"starts set back", both, done(at(5, 90, 0)), at(6, 3, 0), wear.DueUnknown, 0},
		{"broken interval", wear.Interval{EveryS: math.NaN()}, wear.Service{}, at(3, 0, 0), wear.DueUnknown, 0},
		{"broken counter", oil, wear.Service{}, at(math.NaN(), 0, 0), wear.DueUnknown, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := c.v.Assess(c.s, c.now, wear.DefaultSoonFrac)
			require.Equal(t, c.want, d.Status)
			require.InDelta(t, c.left*hour, d.LeftS, 1e-6)
		})
	}
	require.Equal(t, wear.DueUnknown, oil.Assess(wear.Service{}, at(1, 0, 0), 2).Status, "share above 1")
}

// TestDefaultTable: every task has an interval, and a service makes each one
// fine again (source: common practice, no source).
func TestDefaultTable(t *testing.T) {
	table := wear.DefaultIntervals()
	old := wear.Counters{RunS: 1000 * hour, Starts: 20000, Uses: 300}
	var never, fresh [wear.NumTasks]wear.Service
	for i := range fresh {
		fresh[i] = wear.Service{Done: true, At: old}
	}
	for i, d := range wear.AssessAll(&table, &never, old, wear.DefaultSoonFrac) {
		require.Equal(t, wear.DueNow, d.Status, wear.Task(i).String())
		require.True(t, d.ByTime || d.ByStarts || d.ByUses)
	}
	for i, d := range wear.AssessAll(&table, &fresh, old, wear.DefaultSoonFrac) {
		require.Equal(t, wear.DueOK, d.Status, wear.Task(i).String())
	}
}

// TestDueOnlyWorsens: running on never makes a task less due.
func TestDueOnlyWorsens(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := wear.Interval{
			FirstS:      rapid.Float64Range(0, 1e6).Draw(t, "first"),
			EveryS:      rapid.Float64Range(0, 1e6).Draw(t, "every"),
			EveryStarts: rapid.Uint32().Draw(t, "starts"),
			EveryUses:   rapid.Uint32Max(100).Draw(t, "uses"),
		}
		s := wear.Service{Done: rapid.Bool().Draw(t, "done")}
		a := wear.Counters{RunS: rapid.Float64Range(0, 2e6).Draw(t, "run"), Uses: rapid.Uint32Max(1000).Draw(t, "u")}
		was := v.Assess(s, a, 0.1)
		a.RunS += rapid.Float64Range(0, 1e5).Draw(t, "more")
		a.Starts += rapid.Uint32Max(1000).Draw(t, "more starts")
		a.Uses += rapid.Uint32Max(10).Draw(t, "more uses")
		now := v.Assess(s, a, 0.1)
		require.GreaterOrEqual(t, now.Status, was.Status)
		require.LessOrEqual(t, now.LeftS, was.LeftS)
	})
}

func TestAdvance(t *testing.T) {
	c := wear.Counters{}
	running := []bool{false, true, true, true, false, false, true}
	was := false
	for _, r := range running {
		var ok bool
		c, ok = c.Advance(was, r, 0.5)
		require.True(t, ok)
		was = r
	}
	require.Equal(t, wear.Counters{RunS: 2, Starts: 2}, c)
	for _, dt := range []float64{0, -1, 61, math.NaN(), math.Inf(1)} {
		got, ok := c.Advance(false, true, dt)
		require.False(t, ok, dt)
		require.Equal(t, c, got)
	}
	full := wear.Counters{Starts: math.MaxUint32}
	full, ok := full.Advance(false, true, 1)
	require.True(t, ok)
	require.Equal(t, uint32(math.MaxUint32), full.Starts, "a full counter doesn't wrap")
}
