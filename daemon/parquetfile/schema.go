package parquetfile

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/parquet-go/parquet-go"

	"headroom/rules/frame"
	"headroom/sensors/csvfile"
)

const (
	// layoutVersion is what is written here, and the newest that is read.
	layoutVersion = 1
	versionKey    = "headroom.recording"
	unitsKey      = "headroom.units"

	timeName    = "t_ns"
	secondsName = "time_s"
	wallName    = "wall"
)

// columns is a schema whose columns keep their order; the library's own groups
// sort them by name.
type columns struct {
	parquet.Node
	fields []parquet.Field
}

// Fields are the columns in their order.
func (c *columns) Fields() []parquet.Field { return c.fields }

func schemaFor(channels []frame.Channel) *parquet.Schema {
	group := parquet.Group{
		timeName:    parquet.Encoded(parquet.Int(64), &parquet.DeltaBinaryPacked),
		secondsName: parquet.Leaf(parquet.DoubleType),
		wallName:    parquet.Optional(parquet.Timestamp(parquet.Nanosecond)),
	}
	order := []string{timeName, secondsName, wallName}
	for _, c := range channels {
		value, status := csvfile.ValueColumn(c), csvfile.StatusColumn(c)
		group[value] = parquet.Optional(parquet.Leaf(parquet.DoubleType))
		group[status] = parquet.Encoded(parquet.String(), &parquet.RLEDictionary)
		order = append(order, value, status)
	}
	fields := group.Fields()
	slices.SortFunc(fields, func(a, b parquet.Field) int {
		return slices.Index(order, a.Name()) - slices.Index(order, b.Name())
	})
	return parquet.NewSchema("recording", &columns{group, fields})
}

// unitsText names the unit of every column of values.
func unitsText(channels []frame.Channel) string {
	units := map[string]string{timeName: "ns", secondsName: "s"}
	for _, c := range channels {
		name := csvfile.ValueColumn(c)
		units[name] = unitOf(strings.TrimPrefix(name, c.String()+"_"))
	}
	text, err := json.Marshal(units)
	if err != nil {
		return "" // can't be: it is a map of strings
	}
	return string(text)
}

// unitOf is the unit that the ending of a column's name stands for.
func unitOf(ending string) string {
	if unit, ok := map[string]string{
		"pa": "Pa", "k": "K", "m3s": "m3/s", "a": "A", "hz": "Hz", "v": "V", "ms2": "m/s2", "share": "1", "on": "1 is on",
	}[ending]; ok {
		return unit
	}
	return ending
}

// checkVersion refuses files of other programs, and of newer versions of this
// one.
func checkVersion(text string, ok bool) error {
	if !ok {
		return fmt.Errorf("it is not a recording of this program; export the other program's log as CSV and import that with a map of its columns")
	}
	v, err := strconv.Atoi(text)
	if err != nil || v < 1 {
		return fmt.Errorf("its version %q is damaged", text)
	}
	if v > layoutVersion {
		return fmt.Errorf("its layout is version %d, newer than the %d known here; update the program", v, layoutVersion)
	}
	return nil
}
