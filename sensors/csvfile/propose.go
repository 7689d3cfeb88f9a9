package csvfile

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"headroom/rules/frame"
	"headroom/rules/units"
)

// Proposal is a map that a file's own first lines suggest. What can't be known
// is left out and named, never filled in.
type Proposal struct {
	// Map holds the delimiter, the decimal mark, the time and the columns whose
	// channel and unit are known.
	Map Map
	// Header is the line that names the columns, counted from 1; HasUnits tells
	// that the next one names their units.
	Header   int
	HasUnits bool
	// Open are columns that may be a channel, but whose unit or place only a
	// person knows.
	Open []OpenColumn
	// Doubts are what a person should look at, in sentences.
	Doubts []string
}

// OpenColumn is a column that was not mapped.
type OpenColumn struct {
	// Name in the header, Example its first value.
	Name, Example string
	// Channel it may be and whether there is one.
	Channel frame.Channel
	Known   bool
}

// proposeLines is how much of a file is looked at.
const proposeLines = 200 + maxPreamble

// Propose looks at the beginning of a foreign recording and proposes its map.
// The error says why no table is seen in it.
func Propose(in io.Reader) (*Proposal, error) {
	lines, err := firstLines(in)
	if err != nil {
		return nil, err
	}
	t, ok := findTable(lines)
	if !ok {
		return nil, errors.New("no table is seen in its first lines: a line that names the columns, and below it rows with as many fields and numbers in them")
	}
	p := &Proposal{Header: t.header + 1, HasUnits: t.units != nil}
	p.Map.Delimiter, p.Map.DecimalComma = rune(t.delim), t.point == ','
	used := p.findTime(t)
	p.findColumns(t, used)
	if p.Map.Time.Column == "" {
		p.Doubts = append(p.Doubts, "No column of times was recognised: write its name and how it is written.")
	}
	return p, nil
}

func firstLines(in io.Reader) ([]string, error) {
	r := bufio.NewReaderSize(in, 1<<16)
	var out []string
	for len(out) < proposeLines {
		line, err := r.ReadString('\n')
		if len(line) > maxLine {
			return nil, fmt.Errorf("line %d is longer than %d bytes; is it a CSV file?", len(out)+1, maxLine)
		}
		if line != "" && (err == nil || len(out) == 0) {
			out = append(out, strings.TrimRight(line, "\r\n"))
		}
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("cannot be read: %w", err)
		}
	}
	if len(out) == 0 {
		return nil, errors.New("it is empty")
	}
	if strings.HasPrefix(out[0], "\xff\xfe") || strings.HasPrefix(out[0], "\xfe\xff") {
		return nil, errors.New("the text is UTF-16; save it as UTF-8")
	}
	out[0] = strings.TrimPrefix(out[0], "\xef\xbb\xbf")
	for i := range out {
		if !utf8.ValidString(out[i]) {
			return nil, fmt.Errorf("line %d is not UTF-8; save the file as UTF-8, so that its names can be written into a map", i+1)
		}
	}
	return out, nil
}

// table is where the header and the rows are.
type table struct {
	delim, point byte
	header       int
	names, units []string
	rows         [][]string
}

// findTable takes the first line that is followed by rows as wide as itself,
// most of whose fields are numbers, split by whatever makes it widest.
func findTable(lines []string) (best table, ok bool) {
	for at := range lines[:min(len(lines), maxPreamble)] {
		for _, d := range [...]byte{'\t', ';', ',', '|'} {
			t, fits := tableAt(lines, at, d)
			if fits && (!ok || len(t.names) > len(best.names)) {
				best, ok = t, true
			}
		}
		if ok {
			return best, true
		}
	}
	return best, false
}

func tableAt(lines []string, at int, delim byte) (t table, ok bool) {
	t = table{delim: delim, point: '.', header: at, names: split([]byte(lines[at]), delim)}
	if strings.HasPrefix(lines[at], "#") || len(t.names) < 2 || numbers(t.names, '.') > 0 || t.names[0] == "" && t.names[1] == "" {
		return t, false
	}
	for _, line := range lines[at+1:] {
		if strings.TrimSpace(line) == "" {
			continue
		}
		row := split([]byte(line), delim)
		if len(row) > len(t.names)+1 || len(row) < 2 {
			return t, false
		}
		t.rows = append(t.rows, row)
	}
	if len(t.rows) == 0 {
		return t, false
	}
	if delim != ',' && countNumbers(t.rows, ',') > countNumbers(t.rows, '.') {
		t.point = ','
	}
	if numbers(t.rows[0], t.point) == 0 && len(t.rows) > 1 {
		t.units, t.rows = t.rows[0], t.rows[1:]
	}
	return t, numbers(t.rows[0], t.point) > 0
}

func countNumbers(rows [][]string, point byte) (n int) {
	for _, row := range rows[:min(len(rows), 20)] {
		n += numbers(row, point)
	}
	return n
}

func numbers(cells []string, point byte) (n int) {
	for _, c := range cells {
		if _, ok := parseNumber([]byte(c), point); ok {
			n++
		}
	}
	return n
}

// cells are a column's values.
func (t *table) cells(i int) (out []string) {
	for _, row := range t.rows {
		if i < len(row) && row[i] != "" {
			out = append(out, row[i])
		}
	}
	return out
}

// unit is what stands in a column's row of units, or in brackets or behind a
// sign at the end of its name.
func (t *table) unit(i int) string {
	if i < len(t.units) && unitText(t.units[i]) != "" {
		return unitText(t.units[i])
	}
	name := t.names[i]
	if at := strings.LastIndexAny(name, "(["); at >= 0 {
		return unitText(name[at:])
	}
	if at := strings.LastIndexAny(name, "_ ,/"); at >= 0 {
		return strings.TrimSpace(name[at+1:])
	}
	return ""
}

// findColumns maps every column whose name tells the channel and whose unit is
// one of the channel's.
func (p *Proposal) findColumns(t table, used map[int]bool) {
	taken := map[frame.Channel]string{}
	for i, name := range t.names {
		cells := t.cells(i)
		if used[i] || name == "" || len(cells) == 0 {
			continue
		}
		ch, known := channelOf(name)
		open := OpenColumn{Name: name, Example: cells[0], Channel: ch, Known: known}
		u, hasUnit := units.Unit{}, false
		if known {
			u, hasUnit = columnUnit(ch, t.unit(i))
		}
		first, twice := taken[ch]
		switch {
		case known && twice:
			p.Doubts = append(p.Doubts, fmt.Sprintf("Both %q and %q look like %s; the first was taken.", first, name, ch))
			p.Open = append(p.Open, open)
		case known && hasUnit:
			taken[ch] = name
			p.Map.Columns = append(p.Map.Columns, Column{Name: name, Channel: ch, Unit: u})
		default:
			p.Open = append(p.Open, open)
		}
	}
}

func columnUnit(ch frame.Channel, text string) (units.Unit, bool) {
	if q := ch.Quantity(); q == units.Switch {
		return units.Lookup(q, "")
	}
	return lookUnit(ch.Quantity(), text)
}

// channelWords are what loggers call the channels, the more special ones first.
// Every word of a line must stand in the name. Common practice, no source.
var channelWords = [...]struct {
	words string
	ch    frame.Channel
}{
	{"motor temp", frame.MotorTemp}, {"air temp", frame.AmbientTemp}, {"ambient", frame.AmbientTemp}, {"water temp", frame.WaterTemp}, {"inlet temp", frame.WaterTemp},
	{"inlet", frame.InletPressure}, {"suction", frame.InletPressure}, {"supply press", frame.InletPressure}, {"discharge", frame.OutletPressure},
	{"outlet", frame.OutletPressure}, {"pump press", frame.OutletPressure}, {"flow", frame.Flow}, {"current", frame.MotorCurrent}, {"amp", frame.MotorCurrent},
	{"volt", frame.SupplyVoltage}, {"rpm", frame.ShaftSpeed}, {"speed", frame.ShaftSpeed}, {"vibration", frame.Vibration}, {"water", frame.WaterTemp},
}

func channelOf(name string) (frame.Channel, bool) {
	lower := strings.ToLower(name)
	if ch, ok := frame.ByName(strings.ReplaceAll(lower, " ", "_")); ok {
		return ch, true
	}
	for _, w := range channelWords {
		all := true
		for _, word := range strings.Fields(w.words) {
			all = all && strings.Contains(lower, word)
		}
		if all {
			return w.ch, true
		}
	}
	return 0, false
}

// Text is the proposal as a part of a config.
func (p *Proposal) Text() []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "# Proposed from the file's first lines; its header is line %d. Check every line.\n", p.Header)
	if p.HasUnits {
		b.WriteString("# The line below the header names units and is passed over.\n")
	}
	for _, d := range p.Doubts {
		fmt.Fprintf(&b, "# Look here: %s\n", d)
	}
	b.WriteString("\n[csv]\n")
	if p.Map.Delimiter != ',' {
		fmt.Fprintf(&b, "delimiter = %q\n", string(p.Map.Delimiter))
	}
	if p.Map.DecimalComma {
		b.WriteString("decimal = \",\"\n")
	}
	b.WriteString("\n[csv.time]\n")
	p.writeTime(&b)
	for _, c := range p.Map.Columns {
		fmt.Fprintf(&b, "\n[[csv.column]]\nname = %q\nchannel = %q\nunit = %q\n", c.Name, c.Channel, c.Unit.Symbol)
	}
	for _, o := range p.Open {
		channel, unit := "...", "..."
		if o.Known {
			channel = o.Channel.String()
			unit = strings.Join(units.Symbols(o.Channel.Quantity()), " or ")
		}
		fmt.Fprintf(&b, "\n# Not read. Its first value is %s.\n# [[csv.column]]\n# name = %q\n# channel = %q\n# unit = %q\n", plainText(o.Example), o.Name, channel, unit)
	}
	for _, c := range p.Map.Columns {
		fmt.Fprintf(&b, "\n[channels.%s]\nfitted = true\n", c.Channel)
	}
	return b.Bytes()
}

func (p *Proposal) writeTime(b *bytes.Buffer) {
	t := &p.Map.Time
	if t.Column == "" {
		b.WriteString("# column = \"...\"\n# format = \"YYYY-MM-DD hh:mm:ss\"\n")
		return
	}
	fmt.Fprintf(b, "column = %q\n", t.Column)
	if t.DateColumn != "" {
		fmt.Fprintf(b, "date_column = %q\n", t.DateColumn)
	}
	if t.Format != "" {
		fmt.Fprintf(b, "format = %q\n", t.Format)
	}
	if t.Unit != "" {
		fmt.Fprintf(b, "unit = %q\n", t.Unit)
	}
}

func plainText(s string) string { return fmt.Sprintf("%q", shorten([]byte(s))) }
