// Package gum puts a number on doubt: it combines what is known of the errors
// of several inputs into the uncertainty of a result, by the rules of the GUM
// (JCGM 100:2008).
//
// It owns the evaluation of type A (scatter of readings, also where they are
// correlated in time) and type B (class, resolution, certificate), sensitivity
// coefficients, the law of propagation with correlation, effective degrees of
// freedom, and the coverage interval at a stated level. Where the errors are
// independent the interval comes from their distributions, not from a normal
// one: a result that hangs on one rectangular error has a factor of 1.65 at
// 95 %, and 1.96 would overstate it (JCGM 100 G.2.2 and 6.3.3, JCGM 101).
// It refuses to correct a bias, to guess an error that nobody stated, and to
// give an interval where an input is no number: ok is false then.
//
// Units are the caller's; all uncertainties of an input are in its unit.
// Nothing here knows a clock, a sensor or a pump. It allocates: it is for
// results of a test, not for the tick.
//
// Sources: JCGM 100:2008 (GUM), JCGM 101:2008 (propagation of distributions),
// JCGM 106:2012 (conformity), all by the Joint Committee for Guides in
// Metrology. The worked examples of annex H are in annexh_test.go.
package gum

import "math"

// finite reports whether x is a number.
func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
