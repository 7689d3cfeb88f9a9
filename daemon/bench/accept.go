package bench

import (
	"strings"

	"headroom/rules/units"
)

// Verdict is the outcome of one limit, or of a test.
type Verdict string

// The verdicts.
const (
	// NotTested: there is no figure, or the plate doesn't state what the limit is
	// a share of.
	NotTested Verdict = "not tested"
	// NotShown: the uncertainty covers the limit, or an instrument is doubted.
	NotShown Verdict = "not shown"
	// Pass and Fail hold beyond the guard band.
	Pass Verdict = "pass"
	Fail Verdict = "fail"
)

// DecisionLevel is the level of the guard band.
const DecisionLevel = 0.99

// Rule states the decision rule in words.
// Source: JCGM 106:2012, 8.3.2, guarded acceptance and guarded rejection.
const Rule = "Pass: the value lies inside the limit by more than the guard band. Fail: it lies outside by more than that. " +
	"Not shown: anything between. The guard band is the expanded uncertainty at 99 % (JCGM 106, guarded acceptance and rejection), " +
	"so that a figure just at its limit is passed, or failed, wrongly in at most 1 of 200 tests."

// Check is one limit held against its figure.
type Check struct {
	Limit   Limit
	Result  Result
	Verdict Verdict
	// Guard is the guard band in SI.
	Guard float64
	Why   string
}

// Checks holds every limit against its figure.
func (r *Record) Checks() []Check { return r.checks(r.Results()) }

func (r *Record) checks(results []Result) []Check {
	out := make([]Check, 0, len(r.Limits))
	for _, l := range r.Limits {
		if l.Figure < NumFigures {
			out = append(out, check(l, results[l.Figure]))
		}
	}
	return out
}

// check decides about one limit.
func check(l Limit, res Result) Check {
	c := Check{Limit: l, Result: res, Verdict: NotTested, Why: res.Why}
	if l.Lacks != "" && l.Min == nil && l.Max == nil {
		c.Why = l.lacking() // whatever was measured, there is nothing to hold it against
		return c
	}
	if !res.OK {
		return c
	}
	g, ok := res.full.Expand(DecisionLevel)
	c.Verdict = NotShown
	switch {
	case !ok:
		c.Why = "too few readings for a guard band"
		return c
	case res.Doubt != "":
		c.Why = res.Doubt
		return c
	}
	c.Guard = g.U
	v, w := res.Value, g.U
	inside := (l.Min == nil || v-w >= *l.Min) && (l.Max == nil || v+w <= *l.Max)
	outside := l.Min != nil && v+w < *l.Min || l.Max != nil && v-w > *l.Max
	switch {
	case outside:
		c.Verdict = Fail
	case l.Lacks != "":
		c.Verdict, c.Why = NotTested, l.lacking()
	case inside:
		c.Verdict = Pass
	default:
		c.Why = "the uncertainty covers the limit"
	}
	return c
}

// Overall is the verdict of the whole test: fail with any failed limit; pass
// only for a whole test with every limit passed; not shown otherwise.
func (r *Record) Overall(checks []Check) (v Verdict, why string) {
	open := ""
	for _, c := range checks {
		switch c.Verdict {
		case Fail:
			return Fail, c.Limit.Figure.Label() + " is outside its limit"
		case NotShown, NotTested:
			if open == "" {
				open = c.Limit.Figure.Label() + ": " + c.Why
			}
		}
	}
	switch {
	case !r.Whole():
		return NotShown, "the test is partial"
	case open != "":
		return NotShown, open
	case len(checks) == 0:
		return NotShown, "no limit is set"
	}
	return Pass, "every limit is kept"
}

// lacking says why the limit can't be held against anything, and the mend.
func (l Limit) lacking() string {
	return "the plate states no " + l.lacksWords() + " to take a share of: write " + l.Lacks +
		" of this pump into the library, or take its limit out there"
}

// lacksWords is the plate's value that is missing, for people.
func (l Limit) lacksWords() string {
	switch l.Lacks {
	case "relief":
		return "relief pressure"
	case "npsh_required":
		return "NPSH required"
	}
	return strings.ReplaceAll(l.Lacks, "_", " ")
}

// Words writes the limit for people.
func (l Limit) Words(s units.System) string {
	if l.Lacks != "" {
		known := l
		known.Lacks = ""
		share := "a share of the plate's " + l.lacksWords()
		if l.Min == nil && l.Max == nil {
			return share
		}
		return known.Words(s) + ", and " + share
	}
	switch {
	case l.Min != nil && l.Max != nil:
		return l.Figure.Format(s, *l.Min) + " to " + l.Figure.Format(s, *l.Max)
	case l.Min != nil:
		return "at least " + l.Figure.Format(s, *l.Min)
	case l.Max != nil:
		return "at most " + l.Figure.Format(s, *l.Max)
	}
	return "none"
}
