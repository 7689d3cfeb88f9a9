package replay

import (
	"headroom/rules/engine"
	"headroom/rules/frame"
)

// FitTo makes the channels that there are say which ones the machine has: a
// rule whose channel is missing is not watching, and one that is there is
// fitted. A channel without a range gets the one that is believable at all.
// Live engines and replays both go through here, so that a recording, which
// shows what was fitted and no more, is enough to make the same engine again.
func FitTo(cfg engine.Config, channels []frame.Channel) engine.Config {
	for c := range cfg.Signals {
		cfg.Signals[c].Fitted = false
	}
	for _, c := range channels {
		s := &cfg.Signals[c]
		s.Fitted = true
		if s.Min == 0 && s.Max == 0 {
			s.Min, s.Max = c.Believable()
		}
	}
	return cfg
}

// Fitted are the channels that a frame of the machine holds.
func Fitted(f *frame.Frame) (channels []frame.Channel) {
	for c := range f.Samples {
		if f.Samples[c].Status != frame.NotFitted {
			channels = append(channels, frame.Channel(c))
		}
	}
	return channels
}
