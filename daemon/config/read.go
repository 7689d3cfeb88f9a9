package config

import (
	"bytes"
	"errors"
	"fmt"
	"sort"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2/unstable"
)

// This file is the only user of the library's unstable parser, which alone
// tells the place of every key.

// maxFaults is how many places that are no TOML are told of: beyond it the
// file is something else altogether.
const maxFaults = 20

// maxRuns bounds the work on a file where every line is a wreck.
const maxRuns = 500

type reader struct {
	data   []byte
	lines  []int // offsets of the lines' starts
	base   int   // offset of the parser's input in data
	parser unstable.Parser
	prefix string
	arrays map[string]int
	doc    document
	// quiet is set inside the wreck of an expression over several lines, whose
	// every line would be a fault.
	quiet bool
	// adrift is set below a header that could not be read: nobody knows which
	// section the next keys belong to.
	adrift bool
	// last is the place found last, from which the next one is counted on, so
	// that a long line is not counted anew for each of its keys.
	last   position
	lastAt int
}

// read takes a file apart. After a fault it goes on at the next line, so that
// one forgotten quote does not hide the other mistakes.
func read(data []byte) document {
	r := &reader{data: data, lines: lineStarts(data), arrays: map[string]int{}}
	for i := 0; i < maxRuns && r.base < len(data) && len(r.doc.faults) < maxFaults; i++ {
		r.run()
	}
	return r.doc
}

// run reads up to the next fault or the end and moves base behind it.
func (r *reader) run() {
	r.parser.Reset(r.data[r.base:])
	end := 0
	for r.parser.NextExpression() {
		e := r.parser.Expression()
		r.quiet = false
		if e.Kind == unstable.KeyValue {
			end = int(e.Raw.Offset + e.Raw.Length)
			if !r.adrift {
				r.keyValue(r.prefix, e)
			}
			continue
		}
		end = r.header(e)
	}
	if r.parser.Error() == nil {
		r.base = len(r.data)
		return
	}
	start := r.expressionAfter(r.base + end)
	r.fault(start)
	r.base = r.lineEnd(start)
}

// expressionAfter returns the start of the first expression on the lines after
// the one that holds offset, or on that line itself when nothing is read yet.
func (r *reader) expressionAfter(offset int) int {
	if offset > r.base {
		offset = r.lineEnd(offset)
	}
	for offset < len(r.data) {
		line := bytes.TrimSpace(r.data[offset:r.lineEnd(offset)])
		if len(line) > 0 && line[0] != '#' {
			break
		}
		offset = r.lineEnd(offset)
	}
	return min(offset, len(r.data))
}

func (r *reader) lineEnd(offset int) int {
	if i := bytes.IndexByte(r.data[min(offset, len(r.data)):], '\n'); i >= 0 {
		return offset + i + 1
	}
	return len(r.data)
}

func (r *reader) fault(start int) {
	var perr *unstable.ParserError
	text, offset := r.parser.Error().Error(), start
	if errors.As(r.parser.Error(), &perr) {
		offset = min(max(cap(r.data)-cap(perr.Highlight), start), len(r.data))
	}
	at := r.place(offset)
	if !r.quiet {
		r.doc.faults = append(r.doc.faults, fault{at, text})
	}
	r.adrift = r.adrift || !r.quiet && start < len(r.data) && r.data[start] == '['
	r.quiet = r.quiet || at.line != r.place(start).line
}

// header takes a [table] or [[table]] and returns where its name ends.
func (r *reader) header(e *unstable.Node) (end int) {
	path := ""
	var at position
	for it := e.Key(); it.Next(); {
		n := it.Node()
		if end == 0 {
			at = r.place(r.base + int(n.Raw.Offset))
		}
		end = int(n.Raw.Offset + n.Raw.Length)
		path = join(path, part(n))
		if count := r.arrays[path]; count > 0 && (e.Kind == unstable.Table || !it.IsLast()) {
			path = element(path, count)
		}
	}
	if e.Kind == unstable.ArrayTable {
		r.arrays[path]++
		path = element(path, r.arrays[path])
	}
	r.prefix, r.adrift = path, false
	r.doc.heads = append(r.doc.heads, head{path, at, e.Kind == unstable.ArrayTable})
	return end
}

func (r *reader) keyValue(prefix string, e *unstable.Node) {
	path := prefix
	var at position
	for it := e.Key(); it.Next(); {
		n := it.Node()
		if at.line == 0 {
			at = r.place(r.base + int(n.Raw.Offset))
		}
		path = join(path, part(n))
	}
	r.assign(path, at, e.Value())
}

// assign flattens tables and lists of tables into leaves.
func (r *reader) assign(path string, at position, n *unstable.Node) {
	switch {
	case n.Kind == unstable.InlineTable:
		for it := n.Children(); it.Next(); {
			r.keyValue(path, it.Node())
		}
	case n.Kind == unstable.Array && holdsTables(n):
		i := 0
		for it := n.Children(); it.Next(); {
			i++
			at := r.valuePlace(it.Node(), at)
			if it.Node().Kind == unstable.InlineTable {
				r.doc.heads = append(r.doc.heads, head{element(path, i), at, true})
			}
			r.assign(element(path, i), at, it.Node())
		}
	default:
		r.doc.leaves = append(r.doc.leaves, leaf{path, at, r.value(n, at)})
	}
}

func holdsTables(n *unstable.Node) bool {
	for it := n.Children(); it.Next(); {
		if it.Node().Kind == unstable.InlineTable {
			return true
		}
	}
	return false
}

// valuePlace returns where a value stands; the library does not tell it for
// lists, so these take their key's place.
func (r *reader) valuePlace(n *unstable.Node, key position) position {
	if n.Raw.Length == 0 {
		return key
	}
	return r.place(r.base + int(n.Raw.Offset))
}

func (r *reader) value(n *unstable.Node, key position) value {
	v := value{text: string(n.Data), at: r.valuePlace(n, key)}
	switch n.Kind {
	case unstable.String:
		v.shape = aText
	case unstable.Bool:
		v.shape, v.flag = aBoolean, v.text == "true"
	case unstable.Integer:
		v.shape = anInteger
		i, _ := strconv.ParseInt(strings.ReplaceAll(v.text, "_", ""), 0, 64)
		v.number = float64(i)
	case unstable.Float:
		v.shape = aFloat
		v.number, _ = strconv.ParseFloat(strings.ReplaceAll(v.text, "_", ""), 64)
	case unstable.Array:
		v.shape = aList
		for it := n.Children(); it.Next(); {
			v.items = append(v.items, r.value(it.Node(), v.at))
		}
	default:
		v.shape = aDate
	}
	return v
}

func (r *reader) place(offset int) position {
	offset = min(offset, len(r.data))
	line := sort.SearchInts(r.lines, offset+1)
	start, column := r.lines[line-1], 1
	if r.last.line == line && r.lastAt <= offset {
		start, column = r.lastAt, r.last.column
	}
	r.lastAt, r.last = offset, position{line, column + utf8.RuneCount(r.data[start:offset])}
	return r.last
}

func lineStarts(data []byte) []int {
	starts := []int{0}
	for i, b := range data {
		if b == '\n' {
			starts = append(starts, i+1)
		}
	}
	return starts
}

func join(prefix, name string) string {
	if prefix == "" {
		return name
	}
	return prefix + "." + name
}

func element(path string, i int) string { return fmt.Sprintf("%s[%d]", path, i) }

// part returns one part of a key. One that needs quotes keeps them, so that
// "a.b" is never taken for the two parts a and b.
func part(n *unstable.Node) string {
	for _, b := range n.Data {
		bare := b == '_' || b == '-' || b >= '0' && b <= '9' || b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z'
		if !bare {
			return strconv.Quote(string(n.Data))
		}
	}
	if len(n.Data) == 0 {
		return `""`
	}
	return string(n.Data)
}
