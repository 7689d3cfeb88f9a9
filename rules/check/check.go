// Package check is the shape in which the physics packages state what they
// compute and what it was compared with.
//
// Every physics package has a function Checks that returns its quantities,
// each with its formula, range, source and a list of cases whose wanted values
// come from outside this project. The package's tests run the list, and the
// physics document is written from the same list, so that the document cannot
// claim a check that no test runs. The package holds no physics itself.
package check

import "math"

// Origin says how far a wanted value can be trusted.
type Origin uint8

// The origins, strongest first.
const (
	// Published is a value printed in a standard, release or its public
	// verification table.
	Published Origin = iota
	// Library is a value computed by an independent reference library.
	Library
	// Worked is a worked example of a textbook, handbook or public page.
	Worked
	// Arithmetic is the stated formula worked by hand or in other units: it
	// confirms the arithmetic and not the formula.
	Arithmetic
	// Memory is a published value quoted from memory; the document was not at
	// hand.
	Memory
	// Practice is common practice of the trade, no source.
	Practice
)

// String returns the origin as the document prints it.
func (o Origin) String() string {
	switch o {
	case Published:
		return "published value"
	case Library:
		return "reference library"
	case Worked:
		return "worked example"
	case Arithmetic:
		return "arithmetic from the stated formula"
	case Memory:
		return "published value, quoted from memory"
	case Practice:
		return "common practice, no source"
	}
	return "unknown origin"
}

// Case is one comparison: what an outside source says and what we compute.
type Case struct {
	// Name tells the conditions, with units.
	Name string
	// Want is the outside value and Got ours, both in the quantity's unit.
	Want, Got float64
	// Source names where Want stands; empty means the quantity's source.
	Source string
	// Origin says how far Want can be trusted.
	Origin Origin
	// Tol overrides the quantity's relative tolerance where the source rounds
	// its printed value; 0 means no override.
	Tol float64
}

// Quantity is one computed quantity with its provenance and its cases.
type Quantity struct {
	// Name in plain words and Func, the Go function that computes it.
	Name, Func string
	// Unit is the SI unit of the result.
	Unit string
	// Formula in plain text, Range of validity, Source of the formula.
	Formula, Range, Source string
	// Tol is the allowed relative deviation. It comes from the source's own
	// rounding or stated accuracy, never from what the code happens to give.
	Tol float64
	// Floor is the magnitude below which the deviation is taken against Floor
	// instead of the wanted value, so that a wanted 0 can be compared.
	Floor float64
	Cases []Case
}

// Deviation is the relative deviation of a case, against the quantity's floor
// where the wanted value is smaller. A non-finite result gives +Inf.
func (q Quantity) Deviation(c Case) float64 {
	scale := math.Max(math.Abs(c.Want), q.Floor)
	d := math.Abs(c.Got - c.Want)
	if math.IsNaN(d) || math.IsInf(d, 0) {
		return math.Inf(1)
	}
	if d == 0 {
		return 0
	}
	if scale == 0 {
		return math.Inf(1)
	}
	return d / scale
}

// Allowed is the tolerance that holds for a case.
func (q Quantity) Allowed(c Case) float64 {
	if c.Tol > 0 {
		return c.Tol
	}
	return q.Tol
}

// Worst returns the largest deviation over the cases and where it is. Without
// cases it returns 0 and an empty case.
func (q Quantity) Worst() (float64, Case) {
	worst, at := -1.0, Case{}
	for _, c := range q.Cases {
		if d := q.Deviation(c); d > worst {
			worst, at = d, c
		}
	}
	return math.Max(worst, 0), at
}

// SourceOf returns where a case's wanted value stands.
func (q Quantity) SourceOf(c Case) string {
	if c.Source != "" {
		return c.Source
	}
	return q.Source
}
