package gpiochip

import (
	"errors"
	"fmt"
	"time"
)

// Line names one line of a chip: by Name where the chip has names ("GPIO17"),
// else by Offset with an empty Name.
type Line struct {
	Name   string
	Offset uint32
}

// String returns the name, or "line 17" for an offset.
func (l Line) String() string {
	if l.Name != "" {
		return l.Name
	}
	return fmt.Sprintf("line %d", l.Offset)
}

// Edges says which changes of an input become events. After ActiveLow a rising
// edge is the change from inactive to active.
type Edges uint8

// The edges.
const (
	NoEdges Edges = iota
	Rising
	Falling
	BothEdges
)

// Bias is the pull resistor inside the chip.
type Bias uint8

// The biases.
const (
	// BiasAsIs leaves what the firmware set.
	BiasAsIs Bias = iota
	// BiasOff switches the chip's resistors off.
	BiasOff
	// PullUp pulls to the supply, for a contact to ground.
	PullUp
	// PullDown pulls to ground, for a contact to the supply.
	PullDown
)

// InputRequest describes an input line.
type InputRequest struct {
	// Chip is the device, for example /dev/gpiochip0. Empty searches all chips
	// for the line's name, which must then exist exactly once.
	Chip string
	Line Line
	// Consumer is shown by the kernel's tools as the line's user, at most 31
	// bytes; the rest is cut.
	Consumer string
	// ActiveLow turns the level round: a low line is then active.
	ActiveLow bool
	Edges     Edges
	Bias      Bias
	// Debounce drops changes shorter than this; 0 for none. The kernel counts
	// in microseconds.
	Debounce time.Duration
	// Buffer is how many events the kernel shall hold for a late reader; 0 is
	// the kernel's own 16. Measured on kernel 6.1: 1024 holds, more may be cut.
	Buffer int
}

// OutputRequest describes an output line.
type OutputRequest struct {
	// Chip and Line as in InputRequest.
	Chip string
	Line Line
	// Consumer as in InputRequest.
	Consumer string
	// ActiveLow makes an active output a low line, as many relay boards want.
	ActiveLow bool
	// Initial is the logical level with which the line becomes an output, in
	// the same call, so that no other level shows even for a microsecond.
	Initial bool
}

// Event is one change of an input line.
type Event struct {
	// At is the kernel's monotonic clock at the interrupt; see Input.Now.
	At time.Duration
	// Rising is true for a change to active.
	Rising bool
	// Seq counts the events of the request, LineSeq those of the line. Both
	// start at 1 and wrap round after 2^32-1. A step of more than one means
	// that the kernel dropped events because nobody read them in time.
	Seq, LineSeq uint32
}

// Input is a requested input line. Its methods may be called from one
// goroutine at a time, except Close, which may come from any.
type Input interface {
	// Read waits for events at most timeout, which must be above 0, and fills
	// buf with those that are there. 0 and no error means that the time passed
	// without any. An error means that the line is gone.
	Read(buf []Event, timeout time.Duration) (int, error)
	// Value returns the level, true for active, after debounce.
	Value() (bool, error)
	// Now reads the clock that Event.At is taken from.
	Now() time.Duration
	// Close gives the line back and ends a Read that waits.
	Close() error
}

// Output is a requested output line. The level that was commanded is the
// caller's to remember: there is no way to read it back, on purpose.
type Output interface {
	// Set drives the line; true is active.
	Set(active bool) error
	// Alive reports, without touching the line, whether the chip is still
	// there: an error means that the line is gone and what it now shows is
	// nobody's.
	Alive() error
	// Close gives the line back. What level it then takes is up to the chip's
	// driver and the board; set the safe level first, and see package outputs.
	Close() error
}

// Requester hands out lines.
type Requester interface {
	// Input requests an input line.
	Input(r InputRequest) (Input, error)
	// Output requests an output line.
	Output(r OutputRequest) (Output, error)
}

// Check tells what is wrong with a request before any device is asked; nil for
// a good one.
func (r InputRequest) Check() error {
	switch {
	case r.Chip == "" && r.Line.Name == "":
		return errors.New("neither chip nor line name is given: name the line, or give chip and offset")
	case r.Edges > BothEdges:
		return fmt.Errorf("edges %d is not one of NoEdges, Rising, Falling, BothEdges", r.Edges)
	case r.Bias > PullDown:
		return fmt.Errorf("bias %d is not one of BiasAsIs, BiasOff, PullUp, PullDown", r.Bias)
	case r.Debounce < 0 || r.Debounce > time.Second:
		return fmt.Errorf("debounce %v is outside 0 to 1 s", r.Debounce)
	case r.Buffer < 0 || r.Buffer > 65_536:
		return fmt.Errorf("buffer of %d events is outside 0 to 65536", r.Buffer)
	}
	return nil
}

// Check tells what is wrong with a request before any device is asked; nil for
// a good one.
func (r OutputRequest) Check() error {
	if r.Chip == "" && r.Line.Name == "" {
		return errors.New("neither chip nor line name is given: name the line, or give chip and offset")
	}
	return nil
}
