package review

import (
	"slices"
	"time"

	"headroom/rules/frame"
)

// Basis is what kind of thing in the record a piece of evidence is.
type Basis string

// The bases.
const (
	// OnSamples: a figure over the usable samples of Channel from From to To,
	// both inclusive.
	OnSamples Basis = "samples"
	// OnFrames: that there are frames, or none, whatever they hold.
	OnFrames Basis = "frames"
	// OnAlarm: the alarm Name that went up (or back) at From; Value is the
	// rule's value then, where there is one.
	OnAlarm Basis = "alarm"
	// OnAct: the act number N of the boot, at From.
	OnAct Basis = "act"
	// OnSums: a sum of the run's summary, called Name.
	OnSums Basis = "sums"
	// OnClock: an observation of the clock, at From.
	OnClock Basis = "clock"
	// OnRecord: what the record says of itself, called Name.
	OnRecord Basis = "record"
)

// Figure is what was computed from samples or frames.
type Figure string

// The figures. Times are in seconds.
const (
	// Median of the usable samples.
	Median Figure = "median"
	// First and Last usable sample.
	First Figure = "first"
	Last  Figure = "last"
	// Lasts is To - From; a frame stands at both ends.
	Lasts Figure = "lasts"
	// Unusable is the share of the frames in which the channel could not be
	// used.
	Unusable Figure = "unusable"
	// NoFrame: there is no frame between From and To, ends not counted.
	NoFrame Figure = "no_frame"
)

// Evidence is a place in the record that a sentence rests on. A page can show
// it, and Verify recomputes what is OnSamples or OnFrames.
type Evidence struct {
	Basis Basis
	// Channel of the samples; frame.NumChannels for none.
	Channel frame.Channel
	// From and To in monotonic time of the boot.
	From, To time.Duration
	Figure   Figure
	// Value in SI; valid when HasValue. Count is the number of samples or
	// frames behind it.
	Value    float64
	HasValue bool
	Count    int
	// Name of the alarm or sum, and number of the act.
	Name string
	N    int
}

// onAlarm is evidence by an alarm's transition.
func onAlarm(name string, t time.Duration) Evidence {
	return Evidence{Basis: OnAlarm, Channel: frame.NumChannels, From: t, To: t, Name: name}
}

// onSum is evidence by a sum of the run.
func onSum(name string, from, to time.Duration, value float64) Evidence {
	return Evidence{Basis: OnSums, Channel: frame.NumChannels, From: from, To: to, Name: name, Value: value, HasValue: true}
}

// lasting is the evidence of a span between two frames.
func lasting(ch frame.Channel, from, to time.Duration) Evidence {
	return Evidence{Basis: OnFrames, Channel: ch, From: from, To: to, Figure: Lasts, Value: (to - from).Seconds(), HasValue: true}
}

// median of values; they are sorted by it. It must not be empty.
func median(v []float64) float64 {
	slices.Sort(v)
	n := len(v)
	if n%2 == 1 {
		return v[n/2]
	}
	return v[n/2-1]/2 + v[n/2]/2
}
