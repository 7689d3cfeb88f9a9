package report

import (
	"fmt"
	"slices"
	"strings"

	"headroom/daemon/review"
	"headroom/rules/frame"
)

// rests says in short what a sentence rests on: channels by the names that they
// have in the record, times as in the account. Channels with the same figure
// over the same time stand together.
func (p *Report) rests(s *review.Sentence) string {
	var what []string
	channels := map[string][]string{}
	for i := range s.Evidence {
		e := &s.Evidence[i]
		w := p.basis(e)
		if !slices.Contains(what, w) {
			what = append(what, w)
		}
		if e.Channel < frame.NumChannels && !slices.Contains(channels[w], e.Channel.String()) {
			channels[w] = append(channels[w], e.Channel.String())
		}
	}
	for i, w := range what {
		if names := channels[w]; len(names) > 0 {
			what[i] = strings.Join(names, ", ") + ": " + w
		}
	}
	return strings.Join(what, "; ")
}

// basis is one piece of evidence without its channel.
func (p *Report) basis(e *review.Evidence) string {
	h := &p.Account.Head
	switch e.Basis {
	case review.OnSamples:
		return fmt.Sprintf("%s of %d samples %s to %s", e.Figure, e.Count, h.Since(e.From), h.Since(e.To))
	case review.OnFrames:
		if e.To > e.From {
			return "frames " + h.Since(e.From) + " to " + h.Since(e.To)
		}
		return "frame at " + h.Since(e.From)
	case review.OnAlarm:
		return "alarm " + e.Name + " " + h.Since(e.From)
	case review.OnAct:
		return fmt.Sprintf("act %d", e.N)
	case review.OnSums:
		return "sum " + e.Name
	case review.OnClock:
		return "clock " + h.Since(e.From)
	}
	return "record: " + e.Name
}
