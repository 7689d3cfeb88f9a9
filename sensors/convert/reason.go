package convert

// Reason says why a result isn't good.
type Reason uint8

// The reasons. Which of them a kind of input can tell stands at its type.
const (
	// OK: nothing is wrong.
	OK Reason = iota
	// NoNumber: the signal or the result is no finite number.
	NoNumber
	// Saturated: the converter is at the end of its range.
	Saturated
	// NoReference: the transducer's supply wasn't measured.
	NoReference
	// ReferenceLow: the transducer's supply is too low.
	ReferenceLow
	// ReferenceHigh: the transducer's supply is too high.
	ReferenceHigh
	// LoopOpen: the loop carries next to nothing.
	LoopOpen
	// LoopShort: the loop carries more than a transmitter lets through.
	LoopShort
	// SignalsFailureLow: the transmitter itself reports a failure, low.
	SignalsFailureLow
	// SignalsFailureHigh: the transmitter itself reports a failure, high.
	SignalsFailureHigh
	// MarginLow: between the measuring and the low failure band.
	MarginLow
	// MarginHigh: between the measuring and the high failure band.
	MarginHigh
	// MarginTooLong: so long between the bands that it counts as failed.
	MarginTooLong
	// SignalLow: a signal wire off or shorted to ground.
	SignalLow
	// SignalHigh: a signal wire shorted to the supply, or ground off.
	SignalHigh
	// BelowBand: below what a working transducer gives.
	BelowBand
	// AboveBand: above what a working transducer gives.
	AboveBand
	// Reversed: a negative voltage where there can be none.
	Reversed
	// WireOff: an open input, told by its pull-up.
	WireOff
	// SensorOpen: a resistive sensor or its wire is open.
	SensorOpen
	// SensorShort: a resistive sensor or its wire is shorted.
	SensorShort
	// TooCold: below the sensor's stated range.
	TooCold
	// TooHot: above the sensor's stated range.
	TooHot
	// BiasOff: the mid-point voltage of a transformer input is wrong.
	BiasOff
	// OverRange: beyond the current for which a transformer is linear.
	OverRange
	// TooFewSamples: samples came too slowly for whole mains cycles.
	TooFewSamples
	// Uneven: samples came with gaps.
	Uneven
	// Unbelievable: beyond what the channel can believe.
	Unbelievable

	numReasons
)

var reasonWords = [numReasons]string{
	OK:                 "",
	NoNumber:           "the conversion gave no number: check the input's settings",
	Saturated:          "the converter is at the end of its range: wire off or short, or its range is too small",
	NoReference:        "the transducer's supply voltage isn't known: check the input that measures it",
	ReferenceLow:       "the transducer's supply is too low: supply wire off or short",
	ReferenceHigh:      "the transducer's supply is too high: check the regulator",
	LoopOpen:           "wire off or transmitter without supply",
	LoopShort:          "short across the transmitter",
	SignalsFailureLow:  "the transmitter reports a failure of its own (low)",
	SignalsFailureHigh: "the transmitter reports a failure of its own (high)",
	MarginLow:          "just below the measuring band: at the transmitter's lower limit or about to fail",
	MarginHigh:         "just above the measuring band: at the transmitter's upper limit or about to fail",
	MarginTooLong:      "outside the measuring band for too long: counts as failed",
	SignalLow:          "signal wire off, or short to ground",
	SignalHigh:         "signal wire short to the supply, or ground wire off",
	BelowBand:          "below what a working transducer gives",
	AboveBand:          "above what a working transducer gives",
	Reversed:           "negative: wires swapped",
	WireOff:            "signal wire off",
	SensorOpen:         "wire off or sensor open",
	SensorShort:        "short across the sensor or its wires",
	TooCold:            "below the sensor's range",
	TooHot:             "above the sensor's range",
	BiasOff:            "the mid-point voltage is wrong: plug or bias resistor off, or short",
	OverRange:          "beyond the current for which the transformer is linear",
	TooFewSamples:      "samples came too slowly for whole mains cycles: raise the rate or give the input a chip of its own",
	Uneven:             "samples came with gaps or too unevenly: the computer is too busy",
	Unbelievable:       "beyond what this channel can believe: wrong scale or wrong sensor",
}

// Words returns the reason for people; empty for OK.
func (r Reason) Words() string {
	if r >= numReasons {
		return "unknown reason"
	}
	return reasonWords[r]
}
