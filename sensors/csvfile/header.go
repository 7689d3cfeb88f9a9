package csvfile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// readHead reads up to the header line and binds the map's columns to it.
func (r *Reader) readHead(m Map) error {
	version, first := 0, true
	r.lines.head = true
	for {
		line, _, err := r.lines.next()
		switch {
		case errors.Is(err, errLongLine):
			return fmt.Errorf("cannot read %s: line %d is longer than %d bytes; is it a CSV file?", r.name, r.lines.n, r.lines.most(line))
		case errors.Is(err, io.EOF):
			return fmt.Errorf("cannot read %s: there is no header line; the first line must name the columns", r.name)
		case err != nil:
			return fmt.Errorf("cannot read %s: %w", r.name, err)
		}
		if first {
			if bytes.HasPrefix(line, []byte("\xff\xfe")) || bytes.HasPrefix(line, []byte("\xfe\xff")) {
				return fmt.Errorf("cannot read %s: the text is UTF-16; save it as UTF-8", r.name)
			}
			line, first = bytes.TrimPrefix(line, []byte("\xef\xbb\xbf")), false
		}
		if v, ok := bytes.CutPrefix(line, []byte(exportMark)); ok {
			version, _ = strconv.Atoi(string(v))
		}
		if len(trim(line)) == 0 || line[0] == '#' {
			if version > 0 {
				r.about.read(line)
			}
			continue
		}
		if version > exportVersion {
			return fmt.Errorf("cannot read %s: its format is version %d, newer than the %d known here; update the program", r.name, version, exportVersion)
		}
		if !m.IsZero() && !isExport(line) && known(r.cut(line, m), m) == 0 {
			line = r.afterPreamble(line, m)
		}
		r.lines.head, r.lines.long = false, nil
		return r.bind(line, m)
	}
}

// bind finds the map's columns in the header line.
func (r *Reader) bind(line []byte, m Map) error {
	r.own = isExport(line)
	if m.IsZero() && !r.own {
		return fmt.Errorf("cannot read %s: it is not a recording of this program, so a map of its columns is needed; write a [csv] section into a config and name that with -config; its header is %q", r.name, shorten(line))
	}
	r.split.delim = ','
	if !r.own && m.Delimiter != 0 {
		r.split.delim = byte(m.Delimiter)
	}
	r.split.limit = maxLine
	n, ok := r.split.split(line)
	if !ok {
		return fmt.Errorf("cannot read %s: the header line has a quote that is not closed", r.name)
	}
	r.names = make([]string, n)
	for i, f := range r.split.fields {
		r.names[i] = string(trim(f))
	}
	r.split.fields = make([][]byte, 0, n)
	r.split.limit = n
	if r.own {
		m = exportMap(r.names)
	}
	err := r.checkDelimiter(line, m)
	if err == nil {
		err = r.bindColumns(m)
	}
	if err != nil && !utf8.Valid(line) { // a map is UTF-8 and can't name such a column
		err = fmt.Errorf("%w; the header is not UTF-8: save the file as UTF-8, so that its names can be written into a map", err)
	}
	return err
}

func (r *Reader) bindColumns(m Map) (err error) {
	if r.clock, err = newClock(m.Time); err != nil {
		return fmt.Errorf("cannot read %s: %w", r.name, err)
	}
	r.point = '.'
	if m.DecimalComma {
		r.point = ','
		r.clock.point = ','
	}
	f := finder{names: r.names}
	r.timeCol = f.find(m.Time.Column, "time")
	r.wallCol, r.dateCol, r.units = -1, -1, !r.own
	if m.Time.DateColumn != "" {
		r.dateCol = f.find(m.Time.DateColumn, "date")
	}
	if r.own {
		r.wallCol = 1
		if r.wallClock, err = newClock(TimeColumn{Column: wallName, Format: "YYYY-MM-DDThh:mm:ssZ"}); err != nil {
			return fmt.Errorf("cannot read %s: %w", r.name, err)
		}
	}
	r.columns = make([]bound, len(m.Columns))
	for i, c := range m.Columns {
		b := bound{Column: c, value: f.find(c.Name, c.Channel.String()), status: -1}
		if c.StatusColumn != "" {
			b.status = f.find(c.StatusColumn, "status of "+c.Channel.String())
		}
		r.columns[i] = b
	}
	if len(f.missing) > 0 {
		return fmt.Errorf("cannot read %s: %s; the header has %s", r.name, strings.Join(f.missing, "; "), list(r.names))
	}
	return nil
}

// checkDelimiter says once what would else be said of every column.
func (r *Reader) checkDelimiter(line []byte, m Map) error {
	if r.own || known(r.names, m) > 0 {
		return nil
	}
	best, mend := 0, ""
	for _, d := range [...]byte{',', ';', '\t', '|'} {
		if n := known(split(line, d), m); d != r.split.delim && n > best {
			best, mend = n, fmt.Sprintf("split by %q it has %d of them: write delimiter = %q into the section [csv] of the map", rune(d), n, string(d))
		}
	}
	switch {
	case best > 0:
	case len(r.names) == 1:
		mend = "name the right delimiter and the columns as they stand there"
	default:
		return nil // another file altogether: each column is named
	}
	return fmt.Errorf("cannot read %s: split by %q its header %q has none of the map's columns; %s", r.name, rune(r.split.delim), shorten(line), mend)
}

// split cuts a header line by another delimiter.
func split(line []byte, delim byte) (names []string) {
	s := splitter{delim: delim, limit: maxLine}
	s.split(line)
	for _, f := range s.fields {
		names = append(names, string(trim(f)))
	}
	return names
}

// known counts the map's columns among names.
func known(names []string, m Map) (n int) {
	if slices.Contains(names, m.Time.Column) {
		n++
	}
	for i := range m.Columns {
		if slices.Contains(names, m.Columns[i].Name) {
			n++
		}
	}
	return n
}

// finder looks names up in a header and gathers what it can't find.
type finder struct {
	names   []string
	missing []string
}

func (f *finder) find(name, use string) int {
	at := -1
	for i, n := range f.names {
		if n != name {
			continue
		}
		if at >= 0 {
			f.missing = append(f.missing, fmt.Sprintf("the column %q (%s) stands there twice", name, use))
			return -1
		}
		at = i
	}
	if at < 0 {
		f.missing = append(f.missing, fmt.Sprintf("there is no column %q (%s)%s", name, use, f.hint(name)))
	}
	return at
}

// hint says which column was probably meant.
func (f *finder) hint(name string) string {
	best, at := len(name)/2+1, -1
	for i, n := range f.names {
		if d := distance(strings.ToLower(name), strings.ToLower(n)); d < best {
			best, at = d, i
		}
	}
	if at < 0 {
		return ""
	}
	return fmt.Sprintf(": did you mean %q?", f.names[at])
}

// list names a header's columns, not more than help.
func list(names []string) string {
	const most = 40
	var b strings.Builder
	for i, n := range names {
		if i == most {
			fmt.Fprintf(&b, " and %d more", len(names)-most)
			break
		}
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(strconv.Quote(shorten([]byte(n))))
	}
	return b.String()
}

// distance is the number of single-character edits between two names. Source:
// V. I. Levenshtein, 1966. Names beyond 64 bytes are compared by their start.
func distance(a, b string) int {
	const most = 64
	a, b = a[:min(len(a), most)], b[:min(len(b), most)]
	var row [most + 1]int
	for j := range len(b) + 1 {
		row[j] = j
	}
	for i := range len(a) {
		diag := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diag
			if a[i] != b[j] {
				cost++
			}
			diag = row[j+1]
			row[j+1] = min(cost, row[j]+1, diag+1)
		}
	}
	return row[len(b)]
}
