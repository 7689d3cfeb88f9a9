package modbus

import (
	"bytes"
	"encoding/binary"
	"fmt"
)

// Table is one of the two kinds of registers; its number is the function code
// that reads it.
type Table uint8

// The tables.
const (
	// Holding registers are read with function 3.
	Holding Table = 3
	// Input registers are read with function 4.
	Input Table = 4
)

const (
	exceptionBit  = 0x80
	exceptionSize = 5
	requestSize   = 8
)

// request is one question: count registers from address.
type request struct {
	unit    byte
	table   Table
	address uint16
	count   uint16
}

func (r request) bytes() []byte {
	b := []byte{r.unit, byte(r.table)}
	b = binary.BigEndian.AppendUint16(b, r.address)
	b = binary.BigEndian.AppendUint16(b, r.count)
	return withCRC(b)
}

// size of a good answer: unit, function, count of bytes, registers, checksum.
func (r request) size() int { return 5 + 2*int(r.count) }

// Exception is a unit's refusal of a request. The unit is alive.
type Exception struct{ Code byte }

// exceptionWords are the codes of the application protocol, section 7.
var exceptionWords = map[byte]string{
	1:  "it does not know this function: try the other kind of registers",
	2:  "it has no such register: check the address, and whether the manual counts from 0 or from 1",
	3:  "it does not accept this number of registers",
	4:  "it has failed inside",
	5:  "it is still working on it",
	6:  "it is busy",
	8:  "its memory is damaged",
	10: "the gateway has no path to it",
	11: "it does not answer the gateway",
}

// Error implements error.
func (e *Exception) Error() string {
	words, known := exceptionWords[e.Code]
	if !known {
		words = "the code is unknown"
	}
	return fmt.Sprintf("the unit refuses (exception %d): %s", e.Code, words)
}

// verdict is what was found in the bytes received so far.
type verdict uint8

const (
	nothingYet verdict = iota
	answered
	refused
	otherUnit
)

// scan looks for the answer to r anywhere in b. data are the registers' bytes
// when it is answered; code is the exception's when refused; from is the unit
// that spoke when it is another. An echo of the request itself is no answer,
// as its length is even and every answer's is odd.
func scan(r request, b []byte) (v verdict, data []byte, code, from byte) {
	for i := range b {
		f := b[i:]
		if n := r.size(); len(f) >= n && f[0] == r.unit && f[1] == byte(r.table) && int(f[2]) == n-5 && goodCRC(f[:n]) {
			return answered, f[3 : n-2], 0, 0
		}
		if len(f) >= exceptionSize && f[0] == r.unit && f[1] == byte(r.table)|exceptionBit && goodCRC(f[:exceptionSize]) {
			return refused, nil, f[2], 0
		}
	}
	// Last, and only as a whole: a frame of somebody else tells that two units
	// or two masters share the line.
	rest := bytes.TrimPrefix(b, r.bytes())
	if n := r.size(); len(rest) == n && rest[0] != r.unit && rest[1] == byte(r.table) && goodCRC(rest) {
		return otherUnit, nil, 0, rest[0]
	}
	return nothingYet, nil, 0, 0
}
