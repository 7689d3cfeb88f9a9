package remote

import (
	"time"

	"headroom/daemon/store/brief"
	"headroom/rules/engine"
	"headroom/rules/frame"
)

// window sums up what happened up to a moment.
type window struct {
	channels [frame.NumChannels]brief.Stat
}

// add takes a frame: its own values, since the engine smooths them for its
// rules, and the engine's statuses where it was judged, for only the rules know
// a sensor that is stuck or contradicted.
func (w *window) add(f *frame.Frame, v *engine.Verdicts) {
	for ch := range f.Samples {
		x := f.Samples[ch]
		if v != nil {
			x.Status = v.Samples[ch].Status
			if !f.Samples[ch].OK() {
				x.Value = v.Samples[ch].Value
			}
		}
		w.channels[ch].AddSample(x.Value, x.Status)
	}
}

// send writes each channel's window into the batch. A channel without a
// reading that may be used has no sample: its status says why.
func (w *window) send(out *batch, ms int64) {
	for ch := range frame.NumChannels {
		st := &w.channels[ch]
		names, ok := namesOf(ch.Quantity())
		if !ok || st.OK == 0 {
			continue
		}
		send := func(name string, v float64) {
			if name != "" {
				out.add(name, ms, float64(float32(outside(ch.Quantity(), v))), "channel", ch.String())
			}
		}
		// Seven digits, more than any sensor has, and half as many bytes.
		send(names.mean, st.Mean)
		send(names.least, st.Min)
		send(names.most, st.Max)
	}
}

// width of the windows in a minute; 0 sends no readings.
type width time.Duration

// end is where the window lies that holds t, within a minute that begins at from.
func (w width) end(from, t time.Duration) time.Duration {
	if w == 0 {
		return from + minute
	}
	n := (t - from - 1) / time.Duration(w)
	return from + (n+1)*time.Duration(w)
}
