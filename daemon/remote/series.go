package remote

import (
	"math"
	"slices"
	"strings"
)

// label of a series.
type label struct{ name, value string }

// sample is one value at a time in milliseconds since 1970.
type sample struct {
	ms    int64
	value float64
}

// series is one set of labels with its samples, oldest first.
type series struct {
	labels  []label // by name, the metric's own name among them
	samples []sample
}

const (
	nameLabel    = "__name__"
	machineLabel = "machine"
	// simulatedLabel is on all that a simulator made.
	simulatedLabel = "simulated"
	// playbackLabel is on all that a recording gave which was played as live.
	playbackLabel = "playback"
)

// batch collects series for one message.
type batch struct {
	common []label
	// practice is the label that marks what follows, empty for a machine's own
	// readings: a demo must never pass for a machine.
	practice string
	all      []series
	index    map[string]int
	// samples in all series.
	samples int
}

// newBatch makes an empty batch whose series all carry the common labels.
func newBatch(common []label) *batch { return &batch{common: common, index: map[string]int{}} }

// add appends one sample. pairs are names and values of labels. What is no
// number is left out; so is a second sample of one moment, as both would say
// the same.
func (b *batch) add(name string, ms int64, value float64, pairs ...string) {
	if b == nil || math.IsNaN(value) || math.IsInf(value, 0) {
		return
	}
	if b.practice != "" {
		pairs = append(slices.Clip(pairs), b.practice, "yes")
	}
	key := name + "\xff" + strings.Join(pairs, "\xff")
	i, ok := b.index[key]
	if !ok {
		i = len(b.all)
		b.index[key] = i
		b.all = append(b.all, series{labels: b.labels(name, pairs)})
	}
	s := &b.all[i]
	if n := len(s.samples); n > 0 && s.samples[n-1].ms >= ms {
		return
	}
	s.samples = append(s.samples, sample{ms, value})
	b.samples++
}

// labels are those of one series, by name as the protocol asks for.
func (b *batch) labels(name string, pairs []string) []label {
	out := append([]label{{nameLabel, name}}, b.common...)
	for i := 0; i+1 < len(pairs); i += 2 {
		out = append(out, label{pairs[i], pairs[i+1]})
	}
	slices.SortFunc(out, func(a, b label) int { return strings.Compare(a.name, b.name) })
	return out
}

// count is the number of samples in all series.
func count(all []series) (n int) {
	for i := range all {
		n += len(all[i].samples)
	}
	return n
}

// halves cuts a message in two: by time while it has more than one moment, and
// then by series. ok is false for what can't be cut any more.
func halves(all []series) (first, second []series, ok bool) {
	lo, hi := int64(math.MaxInt64), int64(math.MinInt64)
	for i := range all {
		for _, s := range all[i].samples {
			lo, hi = min(lo, s.ms), max(hi, s.ms)
		}
	}
	if lo < hi {
		mid := lo + (hi-lo)/2
		for i := range all {
			n, _ := slices.BinarySearchFunc(all[i].samples, mid+1, func(s sample, ms int64) int { return int(min(max(s.ms-ms, -1), 1)) })
			first = appendPart(first, &all[i], all[i].samples[:n])
			second = appendPart(second, &all[i], all[i].samples[n:])
		}
		return first, second, true
	}
	if len(all) < 2 {
		return nil, nil, false
	}
	return all[:len(all)/2], all[len(all)/2:], true
}

func appendPart(to []series, s *series, part []sample) []series {
	if len(part) == 0 {
		return to
	}
	return append(to, series{s.labels, part})
}
