package adc

import (
	"fmt"
	"time"
)

// Mux is the input of a chip: one pin against ground, or the difference of a
// pair.
type Mux uint8

// The inputs.
const (
	// AIN0 to AIN3 are the single-ended inputs.
	AIN0 Mux = iota
	AIN1
	AIN2
	AIN3
	// Diff01 is AIN0 minus AIN1, Diff23 is AIN2 minus AIN3.
	Diff01
	Diff23

	numMux
)

// muxInfo is the field MUX[2:0] and the pins that an input takes, as bits.
var muxInfo = [numMux]struct {
	name string
	bits uint16
	pins uint8
}{
	{"AIN0", 0b100, 0b0001}, {"AIN1", 0b101, 0b0010}, {"AIN2", 0b110, 0b0100}, {"AIN3", 0b111, 0b1000},
	{"AIN0-AIN1", 0b000, 0b0011}, {"AIN2-AIN3", 0b011, 0b1100},
}

// String returns the input as it stands in the data sheet.
func (m Mux) String() string {
	if m >= numMux {
		return "no such input"
	}
	return muxInfo[m].name
}

// Range is the full scale of the programmable gain amplifier.
type Range uint8

// The ranges, in volts to both sides. The zero value is the chip's default.
const (
	FS2V048 Range = iota
	FS6V144
	FS4V096
	FS1V024
	FS0V512
	FS0V256

	numRanges
)

var rangeInfo = [numRanges]struct {
	bits  uint16
	fullV float64
}{{0b010, 2.048}, {0b000, 6.144}, {0b001, 4.096}, {0b011, 1.024}, {0b100, 0.512}, {0b101, 0.256}}

// FullV returns the full scale in V; 0 for no such range.
func (r Range) FullV() float64 {
	if r >= numRanges {
		return 0
	}
	return rangeInfo[r].fullV
}

// StepV returns the voltage of one code in V: full scale by 32768.
func (r Range) StepV() float64 { return r.FullV() / 32768 }

// Rate is the number of conversions per second.
type Rate uint8

// The rates. The zero value is the chip's default.
const (
	SPS128 Rate = iota
	SPS8
	SPS16
	SPS32
	SPS64
	SPS250
	SPS475
	SPS860

	numRates
)

var rateInfo = [numRates]struct {
	bits uint16
	hz   float64
}{{0b100, 128}, {0b000, 8}, {0b001, 16}, {0b010, 32}, {0b011, 64}, {0b101, 250}, {0b110, 475}, {0b111, 860}}

// Hz returns the nominal rate in conversions per second; 0 for no such rate.
func (r Rate) Hz() float64 {
	if r >= numRates {
		return 0
	}
	return rateInfo[r].hz
}

// conversion is the nominal time of one conversion.
func (r Rate) conversion() time.Duration { return seconds(1 / r.Hz()) }

// The registers.
const (
	regConversion = 0x00
	regConfig     = 0x01
)

// The bits of the config register.
const (
	bitOS         = 1 << 15 // write: begin; read: 1 when no conversion runs
	bitSingleShot = 1 << 8
	// bitPolarity of the comparator does nothing, since the comparator is off.
	// Setting it marks our settings: no reset leaves it set, so that a config
	// equal to the chip's default can still be told from a reset.
	bitPolarity    = 1 << 3
	comparatorOff  = 0b11
	resetConfig    = 0x8583
	settingsMask   = 0x7FFF
	saturatedHigh  = 0x7FFF
	saturatedLow   = -0x8000
	rateTolerance  = 0.10 // of the chip's own clock, data sheet
	firstAddr      = 0x48
	lastAddr       = 0x4b
	bytesWrite     = 4 // address, register, two of data
	bytesRead      = 5 // address, register, address again, two of data
	bitsPerByte    = 9 // eight and an acknowledge
	bitsStartStops = 3
)

// config is the word for the config register without the bit that begins.
func config(m Mux, r Range, rate Rate, single bool) uint16 {
	w := muxInfo[m].bits<<12 | rangeInfo[r].bits<<9 | rateInfo[rate].bits<<5 | bitPolarity | comparatorOff
	if single {
		w |= bitSingleShot
	}
	return w
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// addrWords prints a chip's address as people know it.
func addrWords(addr uint16) string { return fmt.Sprintf("ADC 0x%02x", addr) }
