package thermo1w

import (
	"fmt"

	"headroom/rules/frame"
)

// Fault is why a sensor gave no temperature. It is an error; its text is for
// people.
type Fault struct {
	// Status is what the channel becomes: Missing where the sensor isn't
	// there, OutOfBand where it is but says what it can't, Failed otherwise.
	Status frame.Status
	// Words tell what is wrong and what to look at.
	Words string
}

// Error implements error.
func (f *Fault) Error() string { return f.Words }

// The faults. Their words are constant so that a log can be searched for them.
var (
	errLost = &Fault{frame.Missing, "the sensor is not on the bus: wire off, or another sensor was fitted"}
	// errEmpty is the kernel's empty text, which doesn't tell its two causes
	// apart; errSilent is a bus that was seen to stay high.
	errEmpty   = &Fault{frame.Failed, "the sensor gave no answer that the kernel accepts: wire off or loose, or a wrong checksum from too long a cable or interference"}
	errSilent  = &Fault{frame.Failed, "the sensor gave no answer: wire off or loose"}
	errCRC     = &Fault{frame.Failed, "the checksum is wrong: loose wire, too long a cable or interference"}
	errLow     = &Fault{frame.Failed, "every bit reads as zero: the data wire is shorted to ground"}
	errPowerOn = &Fault{frame.Failed, "the sensor shows its power-on value of 85 °C: it lost its supply while measuring"}
	errLate    = &Fault{frame.Failed, "the sensor took too long to answer: the bus hangs"}
)

func garbled(what string) *Fault {
	return &Fault{frame.Failed, fmt.Sprintf("the answer can't be understood: %s", what)}
}
