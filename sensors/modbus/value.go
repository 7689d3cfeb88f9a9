package modbus

import (
	"encoding/binary"
	"math"
)

// Type is how a value lies in its registers.
type Type uint8

// The types. A register holds its high byte first, always (application
// protocol V1.1b3, section 4.2).
const (
	U16 Type = iota
	S16
	U32
	S32
	F32
	numTypes
)

var typeNames = [numTypes]string{"u16", "s16", "u32", "s32", "f32"}

// String returns the type as it stands in a config file.
func (t Type) String() string {
	if t >= numTypes {
		return "unknown_type"
	}
	return typeNames[t]
}

// TypeByName returns the type with that name; ok is false for none.
func TypeByName(name string) (t Type, ok bool) {
	for i, n := range typeNames {
		if n == name {
			return Type(i), true
		}
	}
	return numTypes, false
}

// registers returns how many registers the type takes.
func (t Type) registers() uint16 {
	if t == U16 || t == S16 {
		return 1
	}
	return 2
}

// WordOrder is which register of a 32-bit value comes first. Modbus leaves it
// open and makers differ.
type WordOrder uint8

// The word orders.
const (
	HighFirst WordOrder = iota
	LowFirst
)

// number decodes the registers' bytes; raw is their bits, for comparison with
// the values that mean "not available". data must have the type's length.
func (t Type) number(data []byte, order WordOrder) (v float64, raw uint32) {
	if t.registers() == 1 {
		raw = uint32(binary.BigEndian.Uint16(data))
	} else {
		raw = binary.BigEndian.Uint32(data)
		if order == LowFirst {
			raw = raw>>16 | raw<<16
		}
	}
	switch t {
	case S16:
		return float64(int16(raw)), raw
	case S32:
		return float64(int32(raw)), raw
	case F32:
		return float64(math.Float32frombits(raw)), raw
	}
	return float64(raw), raw
}
