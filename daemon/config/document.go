package config

// position is a place in the file, counted from 1 in characters.
type position struct{ line, column int }

// shape is what TOML says a value is.
type shape uint8

const (
	aText shape = iota
	anInteger
	aFloat
	aBoolean
	aDate
	aList
)

var shapeWords = [...]string{"a text", "a whole number", "a number", "true or false", "a date", "a list"}

// value is one TOML value that isn't a table.
type value struct {
	shape  shape
	text   string // of a text, decoded; of anything else, as written
	number float64
	flag   bool
	items  []value
	at     position
}

// leaf is one key with its value. The path holds the section; elements of
// arrays of tables are counted from 1: "csv.column[1].name".
type leaf struct {
	path  string
	at    position
	value value
}

// head is one section, as a header or as an inline table in an array.
type head struct {
	path string
	at   position
	// element is true for [[path]] and for a table inside an array.
	element bool
}

// fault is a place that is no TOML.
type fault struct {
	at   position
	text string
}

// document is a file as TOML, before anybody asks what the keys mean. Order is
// the file's.
type document struct {
	leaves []leaf
	heads  []head
	faults []fault
}
