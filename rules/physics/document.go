package physics

import (
	"strconv"
	"strings"

	"headroom/rules/check"
)

const intro = `# What headroom computes, and what it was compared with

This page is written by ` + "`headroom physics -write rules/PHYSICS.md`" + ` from the lists that the tests run; don't edit it. A test fails when it isn't current.

headroom is an aid and no certified safety device. Local codes, the makers' manuals and licensed practice decide.

How to read it: a quantity's *deviation* is the relative difference between what an outside source says and what the function gives. *Allowed* is the tolerance that holds for that very case; it comes from the source's rounding or stated accuracy and never from what the code happens to give. The *worst* case is the one with the largest deviation; where another case comes closer to its own tolerance, that one is named too. Deviations below 1e-9 are rounding of the computer and are printed as such.

The origins: *published value* (printed in a standard, release or its public verification table; where it was read from a secondary page, the source says so), *reference library* (computed by an independent program), *worked example* (of a textbook, handbook or public page), *published value, quoted from memory* (the document was not at hand), *common practice* (no source), *arithmetic* (the stated formula worked by hand or in other units: it confirms the arithmetic and not the formula). The summary names the first of these that a quantity has.
`

// Document returns the physics document as Markdown. It is the same on every
// machine: the packages compute the same bits everywhere, and deviations are
// printed with two figures.
func Document() string {
	b := &strings.Builder{}
	b.WriteString(intro)
	sections := All()
	writeSummary(b, sections)
	for i := range sections {
		writeSection(b, &sections[i])
	}
	writeOrigins(b, sections)
	writeNotModelled(b, sections)
	return b.String()
}

// line writes its parts and ends the line.
func line(b *strings.Builder, parts ...string) {
	for _, p := range parts {
		b.WriteString(p)
	}
	b.WriteByte('\n')
}

// cell makes text fit for a cell of a table.
func cell(text string) string { return strings.ReplaceAll(text, "|", "\\|") }

func row(b *strings.Builder, cells ...string) {
	for _, c := range cells {
		b.WriteString("| " + cell(c) + " ")
	}
	line(b, "|")
}

func writeSummary(b *strings.Builder, sections []Section) {
	quantities, cases := 0, 0
	for i := range sections {
		for j := range sections[i].Quantities {
			quantities++
			cases += len(sections[i].Quantities[j].Cases)
		}
	}
	line(b, "\n## Summary\n")
	line(b, strconv.Itoa(quantities), " quantities in ", strconv.Itoa(len(sections)), " areas, ", strconv.Itoa(cases), " cases.\n")
	row(b, "Area", "Quantity", "Unit", "Cases", "Strongest outside origin", "Worst deviation", "Allowed there")
	row(b, "---", "---", "---", "---:", "---", "---:", "---:")
	for i := range sections {
		for j := range sections[i].Quantities {
			q := &sections[i].Quantities[j]
			worst, at := q.Worst()
			row(b, sections[i].Title, q.Name, q.Unit, strconv.Itoa(len(q.Cases)), Strongest(q).String(), figure(worst), figure(q.Allowed(at)))
		}
	}
}

func writeSection(b *strings.Builder, s *Section) {
	line(b, "\n## ", s.Title, "\n\n`", s.Package, "`. ", s.About)
	for i := range s.Quantities {
		writeQuantity(b, &s.Quantities[i])
	}
}

func writeQuantity(b *strings.Builder, q *check.Quantity) {
	worst, at := q.Worst()
	line(b, "\n### ", upper(q.Name), "\n")
	line(b, "* Function: `", q.Func, "`, compared in ", q.Unit)
	line(b, "* Formula: ", q.Formula)
	line(b, "* Range: ", q.Range)
	line(b, "* Source: ", q.Source)
	line(b, "* Cases: ", strconv.Itoa(len(q.Cases)), " (", origins(q), "), allowed ", allowedRange(q))
	line(b, "* Worst deviation: ", figure(worst), ", allowed ", figure(q.Allowed(at)), ", at “", at.Name, "” (", at.Origin.String(), ": ", q.SourceOf(at), ")")
	if tight, share := Tightest(q); tight.Name != at.Name && share >= 0.01 {
		line(b, "* Closest to its tolerance: ", figure(q.Deviation(tight)), ", allowed ", figure(q.Allowed(tight)), ", at “", tight.Name, "” (", tight.Origin.String(), ": ", q.SourceOf(tight), ")")
	}
}

// allowedRange tells the tolerances of a quantity's cases.
func allowedRange(q *check.Quantity) string {
	lo, hi := q.Tol, q.Tol
	for i, c := range q.Cases {
		a := q.Allowed(c)
		if i == 0 {
			lo, hi = a, a
		}
		lo, hi = min(lo, a), max(hi, a)
	}
	if figure(lo) == figure(hi) {
		return figure(hi)
	}
	return figure(lo) + " to " + figure(hi)
}

// figure prints a relative deviation with two figures. What is smaller than
// 1e-9 is told as a bound, so that no page hangs on the last bits.
func figure(v float64) string {
	switch {
	case v < 1e-9:
		return "< 1e-9"
	case v < 1e-3:
		return strconv.FormatFloat(v, 'e', 1, 64)
	}
	return strconv.FormatFloat(v*100, 'g', 2, 64) + " %"
}

// upper makes a name the start of a heading.
func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
