// Package frame holds what the engine is fed: one frame per tick, with a value
// and a status for every channel. It owns the list of channels and of
// statuses, their names and their meaning. It knows no sensor, no rule and no
// clock; the time of a frame travels beside it.
package frame

// Status says how far a sample may be trusted. The zero value is NotFitted, so
// that a frame nobody filled can never read as good.
type Status uint8

// The statuses. Only Good, Service and Uncorrected may be judged by a rule; every other
// status reaches the rules, the screen and the metrics as itself. In the terms
// of NAMUR NE 107, Missing, Stale, Stuck, OutOfBand and Failed are a failure,
// Checking is a function check, Suspect and Uncorrected are out of specification
// and Service is maintenance required.
const (
	// NotFitted means that the machine has no such sensor.
	NotFitted Status = iota
	// Good means a fresh, believable reading.
	Good
	// Missing means fitted, but no reading has come since the start, or the
	// recording has none in this row.
	Missing
	// Stale means that the last reading is too old.
	Stale
	// Stuck means that the value has lost the noise a live sensor has.
	Stuck
	// OutOfBand means a reading that a working sensor cannot give.
	OutOfBand
	// Failed means that the sensor or its bus reports a fault.
	Failed
	// Suspect means that other channels or the signal's own noise contradict
	// the reading.
	Suspect
	// Checking means that somebody is calibrating or testing the sensor.
	Checking
	// Service means that the reading can still be used, but the sensor asks
	// for attention, for example because its calibration is old.
	Service
	// Uncorrected means that the reading can still be used, but not as well as
	// was shown once: what is known of the sensor can't be read.
	Uncorrected

	// NumStatuses is the number of statuses.
	NumStatuses
)

var statusNames = [NumStatuses]string{
	"not_fitted", "good", "missing", "stale", "stuck", "out_of_band", "failed", "suspect", "checking", "service", "uncorrected",
}

var statusWords = [NumStatuses]string{
	"not fitted", "good", "no reading", "reading is old", "reading is stuck",
	"outside what the sensor can give", "sensor failed", "contradicted by other readings",
	"being tested", "good, but needs service", "its calibration can't be read",
}

// String returns the status as it stands in recordings and metrics.
func (s Status) String() string {
	if s >= NumStatuses {
		return "unknown_status"
	}
	return statusNames[s]
}

// Words returns the status for people.
func (s Status) Words() string {
	if s >= NumStatuses {
		return "unknown status"
	}
	return statusWords[s]
}

// StatusByName returns the status with that name; ok is false for none.
func StatusByName(name string) (s Status, ok bool) {
	for i, n := range statusNames {
		if n == name {
			return Status(i), true
		}
	}
	return NumStatuses, false
}

// Sample is one channel's value, in the channel's SI unit, and its status. The
// value of a sample that isn't Good is whatever was read last, for evidence;
// no rule may use it, but for AtLeast.
type Sample struct {
	Value  float64
	Status Status
}

// OK reports whether the value may be used.
func (s Sample) OK() bool { return s.Status == Good || s.Status == Service || s.Status == Uncorrected }

// AtLeast returns the bound that a sample beyond the top of its sensor's range
// still gives: the quantity is no less than least. It holds for OutOfBand with
// a value above 0 and up to mostBelievable, the channel's own; anything else is
// a fault of the sensor and bounds nothing. Only a quantity whose sensors read
// low when they are overdriven, as a current transformer does, may be asked.
func (s Sample) AtLeast(mostBelievable float64) (least float64, ok bool) {
	if s.Status != OutOfBand || !(s.Value > 0 && s.Value <= mostBelievable) {
		return 0, false
	}
	return s.Value, true
}

// On reports whether a digital sample is good and 1.
func (s Sample) On() bool { return s.OK() && s.Value >= 0.5 }

// Frame is one sample per channel, taken at one time.
type Frame struct {
	Samples [NumChannels]Sample
}

// Set stores a good value.
func (f *Frame) Set(c Channel, value float64) {
	f.Samples[c] = Sample{Value: value, Status: Good}
}

// Fitted reports whether the machine has the channel.
func (f *Frame) Fitted(c Channel) bool { return f.Samples[c].Status != NotFitted }
