//go:build !linux

package gpiochip

import "errors"

// Linux stands for the kernel that this system doesn't have: every request
// fails, so that the rest of the program can be built and tried here.
type Linux struct {
	// Dev is unused here.
	Dev string
}

var errNotLinux = errors.New("cannot request a GPIO line: this system has no Linux GPIO character device")

// Input always fails here.
func (Linux) Input(InputRequest) (Input, error) { return nil, errNotLinux }

// Output always fails here.
func (Linux) Output(OutputRequest) (Output, error) { return nil, errNotLinux }
