package modbus

import (
	"errors"
	"fmt"
)

// Parity is the frame of one character: parity and stop bits.
type Parity uint8

// The parities. Even is what the standard asks for; most meters come with
// none and one stop bit.
const (
	NoParity         Parity = iota // 8N1
	EvenParity                     // 8E1
	OddParity                      // 8O1
	NoParityTwoStops               // 8N2
	numParities
)

var parityNames = [numParities]string{"8N1", "8E1", "8O1", "8N2"}

// String returns the usual short form, for example "8E1".
func (p Parity) String() string {
	if p >= numParities {
		return "unknown_parity"
	}
	return parityNames[p]
}

// ParityByName returns the parity with that short form; ok is false for none.
func ParityByName(name string) (p Parity, ok bool) {
	for i, n := range parityNames {
		if n == name {
			return Parity(i), true
		}
	}
	return numParities, false
}

// Serial is a serial line of the kernel.
type Serial struct {
	// Path of the device. Prefer a link below /dev/serial/by-id: it stays the
	// same when two adapters change places.
	Path string
	// Baud rate: 1200, 2400, 4800, 9600, 19200, 38400, 57600 or 115200.
	Baud int
	// Parity of each character.
	Parity Parity
}

var bauds = []int{1200, 2400, 4800, 9600, 19_200, 38_400, 57_600, 115_200}

func (s Serial) check() error {
	if s.Path == "" {
		return errors.New("the serial line has no path: give for example a link below /dev/serial/by-id")
	}
	if s.Parity >= numParities {
		return fmt.Errorf("parity %d of %s is not one of 8N1, 8E1, 8O1, 8N2", s.Parity, s.Path)
	}
	for _, b := range bauds {
		if b == s.Baud {
			return nil
		}
	}
	return fmt.Errorf("%d baud of %s is not one of %v", s.Baud, s.Path, bauds)
}
