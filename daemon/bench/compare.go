package bench

import (
	"fmt"
	"time"

	"headroom/rules/gum"
)

// Change is one figure before and after.
type Change struct {
	Figure Figure
	// Before and After are the figures of the two tests.
	Before, After Result
	// OK is false where one of them is missing; Why says so.
	OK  bool
	Why string
	// Difference after less before, with its expanded uncertainty U at Level
	// and factor K. Errors that both tests share cancel in it.
	Difference, U, K float64
	// Shown is true where the difference is beyond its uncertainty.
	Shown bool
	// Same lists the instruments that both tests used in one state.
	Same int
}

// Distinct refuses one test named twice: set beside itself it shows no change,
// and says nothing.
func Distinct(before, after *Record) error {
	if before.ID == after.ID {
		return fmt.Errorf("both are the same test, %s: name an earlier and a later one", before.ID)
	}
	return nil
}

// Compare sets a test beside an earlier one of the same pump, figure by figure.
func Compare(before, after *Record) ([]Change, error) {
	if before.Pump.DisplacementM3 != after.Pump.DisplacementM3 || before.Pump.PressurePa != after.Pump.PressurePa {
		return nil, fmt.Errorf("the tests %s and %s are of different plates, so their figures can't be set side by side", before.ID, after.ID)
	}
	old, now := before.Results(), after.Results()
	var out []Change
	for f := range NumFigures {
		out = append(out, change(f, before, after, old[f], now[f]))
	}
	return out, nil
}

func change(f Figure, before, after *Record, old, now Result) Change {
	c := Change{Figure: f, Before: old, After: now, Same: sameInstruments(f, before, after)}
	if !old.OK || !now.OK {
		c.Why = "before: " + old.Why
		if old.OK {
			c.Why = "after: " + now.Why
		}
		return c
	}
	sh := &sheet{many: true}
	full, why := sh.evaluate(func(x []float64) (float64, bool) {
		a, ok1 := models[f](&look{sh: sh, test: 1, rec: before, x: x})
		b, ok2 := models[f](&look{sh: sh, test: 2, rec: after, x: x})
		return b - a, ok1 && ok2
	})
	if why != "" {
		c.Why = why
		return c
	}
	if f == NPSHRequired {
		full = full.With("shape", before.npshShape()).With("shape", after.npshShape())
	}
	i, ok := full.Expand(Level)
	if !ok {
		c.Why = "too few readings for an uncertainty"
		return c
	}
	c.OK, c.Difference, c.U, c.K = true, full.Value, i.U, i.K
	c.Shown = abs(full.Value) > i.U
	if now.Doubt != "" || old.Doubt != "" {
		c.Shown, c.Why = false, old.Doubt+now.Doubt
	}
	return c
}

// sameInstruments counts the figure's instruments that are the same in both.
func sameInstruments(f Figure, a, b *Record) (n int) {
	for _, ch := range f.Needs() {
		i, ok1 := a.instrument(ch)
		j, ok2 := b.instrument(ch)
		if ok1 && ok2 && i.same(j) {
			n++
		}
	}
	return n
}

// Trend is one figure over several tests of a pump.
type Trend struct {
	Figure Figure
	Points []TrendPoint
	// PerYear is the slope of the line through three tests or more, with its
	// expanded uncertainty from the scatter about it; OK is false with fewer.
	PerYear, U float64
	OK         bool
}

// TrendPoint is one test's figure.
type TrendPoint struct {
	ID    string
	Began time.Time
	// Whole is false for a partial test, Practice true where no pump was tested.
	Whole, Practice bool
	Result          Result
}

// TrendOf follows a figure over tests, the oldest first, over rebuilds and
// years. Tests without the figure are left out, and so are those in which an
// instrument behind it is doubted.
func TrendOf(f Figure, tests []*Record) Trend {
	t := Trend{Figure: f}
	var x, y []float64
	for _, r := range tests {
		res := r.Results()[min(f, NumFigures-1)]
		if !res.OK || res.Doubt != "" {
			continue
		}
		t.Points = append(t.Points, TrendPoint{r.ID, r.Began, r.Whole(), r.Practice(), res})
		x = append(x, r.Began.Sub(tests[0].Began).Hours()/(24*365.25))
		y = append(y, res.Value)
	}
	line, ok := gum.FitLine(x, y)
	if !ok || line.N < 3 {
		return t
	}
	k, ok := gum.StudentT(Level, float64(line.N-2))
	t.PerYear, t.U, t.OK = line.Slope, k*line.SlopeStd, ok
	return t
}
