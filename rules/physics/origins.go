package physics

import (
	"strconv"
	"strings"

	"headroom/rules/check"
)

// Strength ranks the best case of a quantity: 1 published, 2 library, 3 worked
// example, 4 memory, 5 practice, 6 arithmetic only, 0 without cases. What
// stands outside the formula comes before arithmetic, which confirms the
// arithmetic alone.
type Strength uint8

// ranked is the order of the strengths, strongest first. Constant data.
var ranked = [...]check.Origin{check.Published, check.Library, check.Worked, check.Memory, check.Practice, check.Arithmetic}

// String returns the strength in the words of the summary.
func (s Strength) String() string {
	names := [...]string{"none", "published", "library", "worked", "memory", "practice", "arithmetic only"}
	if int(s) >= len(names) {
		return names[0]
	}
	return names[s]
}

// Strongest returns the rank of a quantity's best case.
func Strongest(q *check.Quantity) Strength {
	for i, o := range ranked {
		if count(q, o) > 0 {
			return Strength(i + 1)
		}
	}
	return 0
}

func count(q *check.Quantity, o check.Origin) int {
	n := 0
	for _, c := range q.Cases {
		if c.Origin == o {
			n++
		}
	}
	return n
}

// Tightest returns the case whose deviation is the largest share of what is
// allowed for it, and that share, 1 at the limit.
func Tightest(q *check.Quantity) (check.Case, float64) {
	worst, at := -1.0, check.Case{}
	for _, c := range q.Cases {
		a := q.Allowed(c)
		if !(a > 0) {
			continue
		}
		if s := q.Deviation(c) / a; s > worst {
			worst, at = s, c
		}
	}
	return at, max(worst, 0)
}

// origins counts the cases by origin, for example "3 published value".
func origins(q *check.Quantity) string {
	var parts []string
	for o := check.Published; o <= check.Practice; o++ {
		if n := count(q, o); n > 0 {
			parts = append(parts, strconv.Itoa(n)+" "+o.String())
		}
	}
	return strings.Join(parts, "; ")
}

// writeOrigins lists what a reader should trust less.
func writeOrigins(b *strings.Builder, sections []Section) {
	line(b, "\n## What rests on weaker ground")
	listCases(b, sections, "Common practice, no source", "Facts of the trade. No source was found; the values are settings or conventions.",
		func(_ *check.Quantity, c check.Case) bool { return c.Origin == check.Practice })
	listCases(b, sections, "Quoted from memory", "Published values whose document was not at hand.",
		func(_ *check.Quantity, c check.Case) bool { return c.Origin == check.Memory })
	listCases(b, sections, "Read from a secondary page", "Published values read from somebody's copy and not from the document itself.",
		func(q *check.Quantity, c check.Case) bool {
			return c.Origin == check.Published && strings.Contains(q.SourceOf(c), "secondary")
		})
	writeArithmeticOnly(b, sections)
}

func listCases(b *strings.Builder, sections []Section, title, about string, pick func(*check.Quantity, check.Case) bool) {
	line(b, "\n### ", title, "\n\n", about, "\n")
	for i := range sections {
		for j := range sections[i].Quantities {
			q := &sections[i].Quantities[j]
			for _, c := range q.Cases {
				if pick(q, c) {
					line(b, "* ", sections[i].Title, ", ", q.Name, ": ", c.Name, " (", q.SourceOf(c), ")")
				}
			}
		}
	}
}

func writeArithmeticOnly(b *strings.Builder, sections []Section) {
	line(b, "\n### Confirmed by arithmetic only\n\nNo outside value was found; the cases are the stated formula worked by hand. They are definitions, sums of quantities that have their own checks, or balances.\n")
	for i := range sections {
		for j := range sections[i].Quantities {
			q := &sections[i].Quantities[j]
			if int(Strongest(q)) == len(ranked) {
				line(b, "* ", sections[i].Title, ", ", q.Name, ": ", q.Formula, " (", q.Source, ")")
			}
		}
	}
}

func writeNotModelled(b *strings.Builder, sections []Section) {
	line(b, "\n## What is not modelled\n")
	for i := range sections {
		for _, text := range sections[i].NotModelled {
			line(b, "* **", sections[i].Title, ".** ", text)
		}
	}
}
