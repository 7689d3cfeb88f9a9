//go:build !linux

package modbus

import "errors"

// Open always fails here: this system's serial lines can't be set.
func (s Serial) Open() (Port, error) {
	return nil, errors.New("cannot open the serial line: this system has no Linux serial lines")
}
