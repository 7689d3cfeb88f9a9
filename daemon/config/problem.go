package config

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Problem is one mistake, or one note, about one place in a config file.
type Problem struct {
	// File is the name the file was read under.
	File string
	// Line and Column count from 1, in characters.
	Line, Column int
	// Key is the full key, for example "machine.rated_speed"; empty where the
	// text is no TOML.
	Key string
	// Message says what is wrong, Mend what to write instead.
	Message, Mend string
	// Note is true for what the user should know but what stops nothing, for
	// example a rule that is on without its sensor.
	Note bool
}

// String returns the problem as one line that editors can jump to:
// file:line:column: key: message; mend.
func (p Problem) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s:%d:%d: ", p.File, p.Line, p.Column)
	if p.Note {
		b.WriteString("note: ")
	}
	if p.Key != "" {
		b.WriteString(p.Key + ": ")
	}
	b.WriteString(p.Message)
	if p.Mend != "" {
		b.WriteString("; " + p.Mend)
	}
	return b.String()
}

// Mistakes returns the problems that aren't notes: with none, the config may
// be used.
func Mistakes(problems []Problem) []Problem {
	return slices.DeleteFunc(slices.Clone(problems), func(p Problem) bool { return p.Note })
}

// Error is what Load returns for a file with mistakes: all of them.
type Error struct {
	// Path is the file.
	Path string
	// Problems are the file's mistakes and notes, by line.
	Problems []Problem
}

// Error lists every mistake, one a line, below a line that counts them.
func (e *Error) Error() string {
	mistakes := Mistakes(e.Problems)
	lines := make([]string, 0, len(mistakes)+1)
	word := "mistakes"
	if len(mistakes) == 1 {
		word = "mistake"
	}
	lines = append(lines, fmt.Sprintf("cannot use the config %s: %d %s", e.Path, len(mistakes), word))
	for _, p := range mistakes {
		lines = append(lines, p.String())
	}
	return strings.Join(lines, "\n")
}

// sortProblems orders by place, so that the list reads like the file.
func sortProblems(ps []Problem) {
	slices.SortStableFunc(ps, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column),
			cmp.Compare(a.Key, b.Key), cmp.Compare(a.Message, b.Message))
	})
}
