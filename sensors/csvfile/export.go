package csvfile

import (
	"bufio"
	"bytes"
	"slices"
	"strconv"
	"strings"
	"time"

	"headroom/rules/frame"
	"headroom/rules/units"
)

const (
	// exportMark begins the first line of the program's own recordings; the
	// version follows.
	exportMark = "# headroom recording "
	// exportVersion is the version written here and the newest that is read.
	exportVersion = 1
	timeName      = "t_ns"
	wallName      = "wall"
	statusSuffix  = "_status"
	wallLayout    = "2006-01-02T15:04:05.000000000Z"
)

// unitSuffix is how a column's name tells the SI unit of its values.
func unitSuffix(q units.Quantity) string {
	switch q {
	case units.Pressure:
		return "_pa"
	case units.Temperature:
		return "_k"
	case units.FlowRate:
		return "_m3s"
	case units.Current:
		return "_a"
	case units.Speed:
		return "_hz"
	case units.Voltage:
		return "_v"
	case units.Acceleration:
		return "_ms2"
	case units.Fraction:
		return "_share"
	case units.Switch:
		return "_on"
	}
	return "_si"
}

// ValueColumn returns the name of the channel's column of values in the
// program's own recordings, for example "inlet_pressure_pa".
func ValueColumn(c frame.Channel) string { return c.String() + unitSuffix(c.Quantity()) }

// StatusColumn returns the name of the channel's column of statuses in the
// program's own recordings, for example "inlet_pressure_status".
func StatusColumn(c frame.Channel) string { return c.String() + statusSuffix }

// About is what the head of a recording says of its origin. A field that isn't
// known is empty or 0.
type About struct {
	// Software is the version of the program that recorded.
	Software string
	// Config is the hash of the configuration in force.
	Config string
	// Machine is the machine's name.
	Machine string
	// Boot is the number of the run, from 1.
	Boot uint64
	// Notes are further lines of the head, in their order: whatever else the
	// writer knows. A reader keeps no more than 16 MiB of them.
	Notes []Note

	noted int // bytes
}

// Note is one line of a recording's head: a name in lower case, and a text of
// one line, which may be empty.
type Note struct{ Key, Text string }

// maxNotes bounds what a reader keeps of a head, in bytes.
const maxNotes = 16 << 20

func (a *About) append(dst []byte) []byte {
	line := func(key, value string) {
		if value != "" {
			value = strings.Join(strings.Fields(value), " ") // keep it one line
			dst = append(append(append(append(append(dst, "# "...), key...), ": "...), value...), '\n')
		}
	}
	line("software", a.Software)
	line("config", a.Config)
	line("machine", a.Machine)
	if a.Boot > 0 {
		line("boot", strconv.FormatUint(a.Boot, 10))
	}
	oneLine := strings.NewReplacer("\n", " ", "\r", " ")
	for _, n := range a.Notes {
		dst = append(append(append(dst, "# "...), n.Key...), ": "...)
		dst = append(append(dst, oneLine.Replace(n.Text)...), '\n')
	}
	return dst
}

// read takes one comment line of the head; others than its own it ignores.
func (a *About) read(line []byte) {
	key, value, ok := bytes.Cut(bytes.TrimPrefix(line, []byte("# ")), []byte(": "))
	if !ok {
		return
	}
	switch string(key) {
	case "software":
		a.Software = strings.ToValidUTF8(string(value), "?")
	case "config":
		a.Config = strings.ToValidUTF8(string(value), "?")
	case "machine":
		a.Machine = strings.ToValidUTF8(string(value), "?")
	case "boot":
		a.Boot, _ = strconv.ParseUint(string(value), 10, 64)
	default:
		if a.noted += len(key) + len(value); a.noted <= maxNotes {
			a.Notes = append(a.Notes, Note{string(key), strings.ToValidUTF8(string(value), "?")})
		}
	}
}

// isExport reports whether a header line is that of the program's own
// recordings.
func isExport(line []byte) bool {
	rest, ok := bytes.CutPrefix(line, []byte(timeName+","+wallName))
	return ok && (len(rest) == 0 || rest[0] == ',')
}

// exportMap makes the map for a header of the program's own recordings. Columns
// it doesn't know are ignored.
func exportMap(names []string) Map {
	m := Map{Time: TimeColumn{Column: timeName, Unit: "ns"}}
	for c := range frame.NumChannels {
		if name := ValueColumn(c); slices.Contains(names, name) {
			m.Columns = append(m.Columns, Column{Name: name, Channel: c, StatusColumn: StatusColumn(c)})
		}
	}
	return m
}

// wallOK reports whether a wall time fits the format: the reader takes the
// years of an int64 of nanoseconds.
func wallOK(w time.Time) bool {
	y := w.UTC().Year()
	return y >= 1825 && y <= 2115
}

// IsOwn looks whether a recording is of this program's own format, without
// taking anything from in. A recording that lost its first line is known by its
// header only, as NewReader knows it.
func IsOwn(in *bufio.Reader) bool {
	head, _ := in.Peek(len(mark8) + len(exportMark)) // short or failing: not one
	head = bytes.TrimPrefix(head, []byte(mark8))
	return bytes.HasPrefix(head, []byte(exportMark)) || isExport(head)
}

// mark8 is what some programs put before UTF-8.
const mark8 = "\xef\xbb\xbf"
