package convert

import (
	"math"
	"strconv"

	"headroom/rules/frame"
)

// Signal is what an input saw in one conversion.
type Signal struct {
	// VoltV is the voltage at the input's terminals in V, any finite value.
	VoltV float64
	// RefV is the measured supply of the transducer in V, from its own input
	// in the same scan; it counts only with RefOK.
	RefV float64
	// RefOK says that RefV was measured and is fresh.
	RefOK bool
}

// Converter turns a signal into an engineering value. The types of this
// package implement it as plain values.
type Converter interface {
	// Convert never allocates and never gives NaN or Inf: a result that isn't
	// Good has the value 0, but for OverRange.
	Convert(Signal) Result
	// InputV is the range of terminal voltages in V that must be measurable
	// for every fault to be told apart.
	InputV() (lo, hi float64)
	// Validate says what is wrong with the options and how to mend it.
	Validate() error
	// NeedsReference reports whether Convert needs Signal.RefV.
	NeedsReference() bool
}

// Unit says in what Result.Signal is.
type Unit uint8

// The units of an electrical signal.
const (
	// UnitNone: there is no signal to show.
	UnitNone Unit = iota
	// UnitAmpere is shown as mA.
	UnitAmpere
	// UnitVolt is shown as V.
	UnitVolt
	// UnitRatio is a share of the supply, shown as %.
	UnitRatio
	// UnitOhm is shown as ohm.
	UnitOhm
	// UnitPrimary is a current in the conductor of a transformer, shown as A.
	UnitPrimary
)

// unitWords are the name of the signal, the factor from SI and the unit.
var unitWords = [...]struct {
	name, unit string
	factor     float64
}{
	UnitNone:    {"signal", "", 1},
	UnitAmpere:  {"loop current", " mA", 1e3},
	UnitVolt:    {"voltage", " V", 1},
	UnitRatio:   {"signal", " % of the supply", 100},
	UnitOhm:     {"resistance", " ohm", 1},
	UnitPrimary: {"current", " A", 1},
}

// Result is one converted value.
type Result struct {
	// Value in the channel's SI unit; 0 unless Status is Good. With OverRange
	// it is a bound: the quantity is at least this.
	Value float64
	// Status is Good, OutOfBand, Failed or Missing.
	Status frame.Status
	// Reason says why it isn't Good; OK when it is.
	Reason Reason
	// Signal is the electrical evidence, in Unit.
	Signal float64
	// Unit of Signal.
	Unit Unit
}

// Words tells people what is wrong, for example "loop current 2.1 mA: wire off
// or transmitter without supply"; empty for a good result. It allocates.
func (r Result) Words() string {
	why := r.Reason.Words()
	if why == "" || r.Unit == UnitNone || int(r.Unit) >= len(unitWords) {
		return why
	}
	u := unitWords[r.Unit]
	x := r.Signal * u.factor
	if x < 1e-4 && x > -1e-4 {
		x = 0 // below a code: not worth an exponent
	}
	return u.name + " " + strconv.FormatFloat(x, 'g', 3, 64) + u.unit + ": " + why
}

// good makes a good result, unless the value is no number.
func good(value, signal float64, unit Unit) Result {
	if !finite(value) {
		return bad(frame.Failed, NoNumber, 0, UnitNone)
	}
	return Result{Value: value, Status: frame.Good, Signal: signal, Unit: unit}
}

// bad makes a result without a value.
func bad(s frame.Status, why Reason, signal float64, unit Unit) Result {
	if !finite(signal) {
		signal, unit = 0, UnitNone
	}
	return Result{Status: s, Reason: why, Signal: signal, Unit: unit}
}

// finite reports that x is neither NaN nor infinite. Comparing, and not x-x == 0:
// where x is a product, arm64 may fuse that into one rounding, which isn't 0.
func finite(x float64) bool { return math.Abs(x) <= math.MaxFloat64 }
