// Package checktest runs a physics package's list of checks as a test. It
// stands apart from rules/check so that the daemon doesn't link the testing
// package. It refuses a quantity without provenance or without cases, since a
// check that cannot fail is no check.
package checktest

import (
	"testing"

	"headroom/rules/check"
)

// Run fails for each case beyond its tolerance and each quantity that lacks
// its formula, range, unit, source or cases.
func Run(t *testing.T, qs []check.Quantity) {
	t.Helper()
	if len(qs) == 0 {
		t.Fatal("no quantities to check")
	}
	for _, q := range qs {
		t.Run(q.Func, func(t *testing.T) {
			if q.Name == "" || q.Func == "" || q.Unit == "" || q.Formula == "" || q.Range == "" || q.Source == "" {
				t.Errorf("%q: name, func, unit, formula, range and source must all be stated", q.Name)
			}
			if len(q.Cases) == 0 {
				t.Errorf("%s: no cases", q.Name)
			}
			for _, c := range q.Cases {
				if d := q.Deviation(c); !(d <= q.Allowed(c)) {
					t.Errorf("%s: want %.9g, got %.9g %s: off by %.3g, allowed %.3g (source: %s)",
						c.Name, c.Want, c.Got, q.Unit, d, q.Allowed(c), q.SourceOf(c))
				}
			}
		})
	}
}
