package csvfile

import (
	"bufio"
	"bytes"
	"errors"
	"io"
)

// maxLine is the longest line in bytes that is taken: 17 channels need about
// 700. Beyond it a file isn't a recording of frames, and memory stays bounded.
const maxLine = 64 << 10

var errLongLine = errors.New("line too long")

// lineScanner gives one line after the other out of a fixed buffer.
type lineScanner struct {
	in *bufio.Reader
	// n is the number of the last line given, from 1.
	n int
	// head is set while a recording's head is read, whose comments may be longer
	// than any row: long holds one.
	head bool
	long []byte
}

func newLineScanner(r io.Reader) *lineScanner {
	return &lineScanner{in: bufio.NewReaderSize(r, maxLine)}
}

// next returns a line without its end; it is valid until the next call. ended
// is false for a last line without a line feed. An overlong line is passed over
// and gives errLongLine with its beginning.
func (s *lineScanner) next() (line []byte, ended bool, err error) {
	line, err = s.in.ReadSlice('\n')
	switch {
	case err == nil:
		s.n++
		return bytes.TrimSuffix(line[:len(line)-1], []byte{'\r'}), true, nil
	case errors.Is(err, bufio.ErrBufferFull):
		s.n++
		if s.head && line[0] == '#' {
			return s.gather(line)
		}
		return s.passLong(line)
	case errors.Is(err, io.EOF) && len(line) > 0:
		s.n++
		return bytes.TrimSuffix(line, []byte{'\r'}), false, nil
	}
	return nil, false, err
}

// most is how long a line of the head that begins so may be.
func (s *lineScanner) most(line []byte) int {
	if len(line) > 0 && line[0] == '#' {
		return maxNotes
	}
	return maxLine
}

// gather returns a whole comment of up to maxNotes bytes.
func (s *lineScanner) gather(line []byte) ([]byte, bool, error) {
	s.long = append(s.long[:0], line...)
	for {
		more, err := s.in.ReadSlice('\n')
		switch s.long = append(s.long, more...); {
		case errors.Is(err, bufio.ErrBufferFull) && len(s.long) <= maxNotes:
			continue
		case errors.Is(err, bufio.ErrBufferFull):
			return s.passLong(s.long)
		case err != nil && !errors.Is(err, io.EOF):
			return nil, false, err
		}
		line = bytes.TrimSuffix(s.long, []byte{'\n'})
		return bytes.TrimSuffix(line, []byte{'\r'}), err == nil, nil
	}
}

func (s *lineScanner) passLong(line []byte) ([]byte, bool, error) {
	head := append([]byte(nil), line[:maxText+1]...)
	for {
		_, err := s.in.ReadSlice('\n')
		if errors.Is(err, bufio.ErrBufferFull) {
			continue
		}
		if err != nil && !errors.Is(err, io.EOF) {
			return nil, false, err
		}
		return head, err == nil, errLongLine
	}
}

// splitter cuts lines into fields. The slices it gives are valid until the
// next line.
type splitter struct {
	delim  byte
	fields [][]byte
	// limit is how many fields are kept; more are only counted.
	limit int
	// plain holds quoted fields without their quotes.
	plain []byte
}

// split cuts a line and returns how many fields it has. ok is false when a
// quote is not closed or text follows a closed one.
func (s *splitter) split(line []byte) (n int, ok bool) {
	s.fields = s.fields[:0]
	if bytes.IndexByte(line, '"') >= 0 {
		return s.splitQuoted(line)
	}
	for {
		i := bytes.IndexByte(line, s.delim)
		if i < 0 {
			s.keep(line)
			return n + 1, true
		}
		s.keep(line[:i])
		n++
		line = line[i+1:]
	}
}

func (s *splitter) keep(field []byte) {
	if len(s.fields) < s.limit {
		s.fields = append(s.fields, field)
	}
}

func (s *splitter) splitQuoted(line []byte) (n int, ok bool) {
	if cap(s.plain) < len(line) {
		s.plain = make([]byte, 0, maxLine)
	}
	s.plain = s.plain[:0] // never grows below, so kept fields stay valid
	for {
		field, rest, more, ok := s.one(line)
		if !ok {
			return n, false
		}
		s.keep(field)
		n++
		if !more {
			return n, true
		}
		line = rest
	}
}

// one takes the first field off a line that holds quotes.
func (s *splitter) one(line []byte) (field, rest []byte, more, ok bool) {
	if len(line) == 0 || line[0] != '"' {
		i := bytes.IndexByte(line, s.delim)
		if i < 0 {
			return line, nil, false, true
		}
		return line[:i], line[i+1:], true, true
	}
	from := len(s.plain)
	for line = line[1:]; ; line = line[1:] {
		i := bytes.IndexByte(line, '"')
		if i < 0 {
			return nil, nil, false, false
		}
		s.plain = append(s.plain, line[:i]...)
		line = line[i+1:]
		if len(line) == 0 || line[0] != '"' {
			break
		}
		s.plain = append(s.plain, '"') // a doubled quote is one
	}
	field = s.plain[from:]
	switch {
	case len(line) == 0:
		return field, nil, false, true
	case line[0] == s.delim:
		return field, line[1:], true, true
	}
	return nil, nil, false, false
}
