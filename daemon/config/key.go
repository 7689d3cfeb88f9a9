package config

import "headroom/rules/units"

// Kind is how a key's value is written.
type Kind uint8

// The kinds.
const (
	// Text is any text.
	Text Kind = iota
	// Choice is one of the key's Choices.
	Choice
	// Names is a list of the key's Choices.
	Names
	// Flag is true or false.
	Flag
	// Number is a bare number: a grade, a factor.
	Number
	// Count is a bare whole number.
	Count
	// Measure is a text with a number and its unit, such as "100 psi". A
	// measure of the quantity Fraction may also be a bare number, 0.8.
	Measure
	// Wire is a conductor's size, "12 AWG" or "2.5 mm2".
	Wire
	// Size is an amount of data, "2 GB".
	Size
	// Address is a host and port, "127.0.0.1:8080".
	Address
	// Delimiter is one character.
	Delimiter
	// DateFormat is a date written with YYYY MM DD hh mm ss and zzz.
	DateFormat
	// Texts is a list of texts; a single text is a list of one.
	Texts
)

var kindWords = [...]string{
	"text", "one of", "list of", "true or false", "number", "whole number", "number with unit",
	"wire size", "amount of data", "host:port", "one character", "date format", "list of texts",
}

// String returns the kind for people.
func (k Kind) String() string {
	if int(k) >= len(kindWords) {
		return "unknown kind"
	}
	return kindWords[k]
}

// Section is one [section] of the file, or one element of a [[section]].
type Section struct {
	// Name as it stands in the file; empty for the keys before any section.
	Name string
	// Array is true for [[sections]], of which there may be up to Max.
	Array bool
	Max   int
	// Group is set for the first of several alike sections: what holds for all
	// of them, with the keys' docs.
	Group string
	// Terse sections print no docs of their keys: the group's first did.
	Terse bool
	// Doc says what the section is about.
	Doc string
	// Keys in the order of the default file.
	Keys []Key

	// grow makes room for one more element of an array that begins on that
	// line; nil where the array's home is of a fixed size.
	grow func(c *Config, line int)
}

// Key is one setting: the single place that decoding, checks, defaults, the
// default file and the reference read it from.
type Key struct {
	// Name without the section.
	Name string
	// Kind of the value, and its quantity if it is a Measure.
	Kind     Kind
	Quantity units.Quantity
	// Min and Max are the allowed range in SI, both 0 for none. With Above the
	// value must be above Min, not equal to it.
	Min, Max float64
	Above    bool
	// ShareOf is the full key that a percentage is a share of, where a Measure
	// may also be written so.
	ShareOf string
	// Choices of a Choice or Names.
	Choices []string
	// Allowed values of a Count, where it isn't a range.
	Allowed []int64
	// Default as written in the file; empty where there is none.
	Default string
	// Plate is set where the default is a figure of the invented machine: with
	// base = "bare" or the simulator off it does not hold, and the value is 0,
	// false or empty.
	Plate bool
	// Bare is set where the default fits or watches something: with base =
	// "bare" it does not hold either.
	Bare bool
	// Required keys must stand in every element of their section.
	Required bool
	// Example is what the default file shows where there is no default.
	Example string
	// Doc says what the key means, Why stands beside it: the reason or source
	// of this very value.
	Doc, Why string

	// field returns where the value goes: a pointer, or a func(string).
	field func(c *Config, i int) any
}

// path returns the key's full name as the schema knows it; elements of arrays
// have empty brackets.
func (s *Section) path(k *Key) string { return join(s.pattern(), k.Name) }

// sample is a value to show: the default, else the example.
func (k *Key) sample() string {
	if k.Default == "" {
		return k.Example
	}
	return k.Default
}

func (s *Section) pattern() string {
	if s.Array {
		return s.Name + "[]"
	}
	return s.Name
}

// Schema returns every section and key, in the order of the default file.
func Schema() []Section {
	var all []Section
	for _, part := range []func() []Section{
		topSchema, machineSchema, baselineSchema, plantSchema, channelSchema, ruleSchema, runSchema, sensorSchema, outputSchema, notifySchema, remoteSchema, csvSchema,
	} {
		all = append(all, part()...)
	}
	return all
}
