package csvfile

import (
	"strconv"
	"strings"
)

// RowError is one thing in a recording that can't be used, in words for the
// person who has the file.
type RowError struct {
	// File as given to NewReader, and Line counted from 1.
	File string
	Line int
	// Column is the header's name, empty when the whole line is meant.
	Column string
	// Text is what stands there, shortened.
	Text string
	// Problem says what is wrong, Mend what to do about it.
	Problem, Mend string
	// Skipped is true when the whole row was left out, false when only the
	// status of the column's channel tells of it.
	Skipped bool
}

// Error returns the problem as one line, for example:
// log.csv:12: column "flow": "n/a" is no number: ....
func (e *RowError) Error() string {
	var b strings.Builder
	b.WriteString(e.File)
	b.WriteByte(':')
	b.WriteString(strconv.Itoa(e.Line))
	b.WriteString(": ")
	if e.Column != "" {
		b.WriteString("column " + strconv.Quote(e.Column) + ": ")
	}
	if e.Text != "" {
		b.WriteString(strconv.Quote(e.Text) + " ")
	}
	b.WriteString(e.Problem)
	if e.Mend != "" {
		b.WriteString("; " + e.Mend)
	}
	return b.String()
}

// maxText is as much of a bad cell or line as helps to find it.
const maxText = 60

// shorten makes a printable copy of the file's own text.
func shorten(b []byte) string {
	if len(b) > maxText {
		return strings.ToValidUTF8(string(b[:maxText]), "?") + "..."
	}
	return strings.ToValidUTF8(string(b), "?")
}

// Stats counts what a reader has met so far.
type Stats struct {
	// Rows that became frames.
	Rows uint64
	// Skipped rows, each with a RowError.
	Skipped uint64
	// BadCells cost only their channel its reading, each with a RowError.
	BadCells uint64
	// ShortRows ended before the header did; only the first of a series has a
	// RowError.
	ShortRows uint64
}
