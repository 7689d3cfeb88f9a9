package review

import (
	"context"
	"errors"
	"fmt"
	"time"

	"headroom/daemon/config"
	"headroom/daemon/replay"
	"headroom/daemon/store"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// stateSpan is how long the machine was in a state: from its first frame to
// the first frame of the next state.
type stateSpan struct {
	state    machine.State
	from, to time.Duration
}

// doubt is a span in which a channel could not be used: from the first frame in
// which it couldn't to the first in which it could again, or to the last frame
// before a hole.
type doubt struct {
	channel  frame.Channel
	from, to time.Duration
	status   frame.Status
	// raw is false where the reading itself was good and the engine found that
	// others contradict it.
	raw bool
}

// switching is the moment at which the motor or engine was switched on or off,
// as its own input tells.
type switching struct {
	at time.Duration
	on bool
}

// walked is what one pass over the frames finds. It holds no frames.
type walked struct {
	frames      int
	first, last time.Duration
	states      []stateSpan
	// gaps and doubts are the first ones, absent and trust the sums of all.
	gaps     []Gap
	absent   absence
	doubts   []doubt
	trust    [frame.NumChannels]trust
	switched []switching
	fitted   [frame.NumChannels]bool
	// known tells that states were told: the config was at hand.
	known bool
	// stands tells of the times that were asked about whether a frame is there.
	stands map[time.Duration]bool
}

const (
	// breath is the longest time between frames that is no gap where the
	// config doesn't say: three ticks are never that slow.
	breath = 3 * time.Second
	// bridged is the pause between two doubts of a channel that are told as
	// one.
	bridged = 2 * time.Second
	// maxDoubts for each channel, and maxGaps, are kept one by one; the rest is
	// only summed up.
	maxDoubts, maxGaps = 200, 500
	// maxSwitched is more than a day of work has.
	maxSwitched = 5000
)

// walker makes one pass. The machine's states come from the engine itself with
// every rule switched off, so that they are those of then.
type walker struct {
	walked
	cfg     *engine.Config
	e       *engine.Engine
	s       engine.State
	maxGap  time.Duration
	follows [frame.NumChannels]following
	// lostTo is up to when the record has told why frames are missing.
	lostTo time.Duration
	// isOn is the switch as it was last read, valid when wasRead.
	isOn, wasRead bool
}

// walk reads the frames of a span once. cfg may be nil: then no states are
// told. ask are times at which a frame should stand.
func walk(ctx context.Context, r Record, boot uint64, from, to time.Duration, cfg *config.Config, ask []time.Duration) (*walked, error) {
	w := walker{maxGap: breath}
	w.stands = make(map[time.Duration]bool, len(ask))
	for _, t := range ask {
		w.stands[t] = false
	}
	if cfg != nil {
		c := cfg.Engine
		for i := range c.Rules {
			c.Rules[i].On = false
		}
		w.cfg = &c
		if c.MaxGap > 0 {
			w.maxGap = c.MaxGap
		}
	}
	for tick, err := range r.Frames(ctx, store.RunID{Boot: boot}, from, to) {
		var lost *store.LostError
		switch {
		case errors.As(err, &lost):
			w.lost(lost, from, to)
		case err != nil:
			return nil, fmt.Errorf("cannot read the frames of boot %d: %w", boot, err)
		default:
			if err := w.take(&tick); err != nil {
				return nil, err
			}
		}
	}
	w.end()
	return &w.walked, ctx.Err()
}

func (w *walker) take(k *store.Tick) error {
	if w.frames == 0 {
		w.first = k.T
		if err := w.begin(k); err != nil {
			return err
		}
	} else if k.T <= w.last {
		return nil // the engine passes over it too
	} else if k.T-w.last > w.maxGap {
		w.gap(k.T)
	}
	w.frames++
	if _, asked := w.stands[k.T]; asked {
		w.stands[k.T] = true
	}
	samples := &k.Frame.Samples
	if w.e != nil {
		v := w.e.Step(&w.s, &k.Frame, k.T)
		samples = &v.Samples
		w.state(v.Machine, k.T)
	}
	for c := range samples {
		w.status(frame.Channel(c), k.Frame.Samples[c].Status, samples[c].Status, k.T)
	}
	w.follow(k.Frame.Samples[frame.Running], k.T)
	w.last = k.T
	return nil
}

// follow notes when the switch was turned. A hole in between says nothing of
// when, so the first reading after one only sets the state.
func (w *walker) follow(smp frame.Sample, t time.Duration) {
	if !smp.OK() {
		w.wasRead = false
		return
	}
	if w.wasRead && t-w.last <= w.maxGap && smp.On() != w.isOn && len(w.switched) < maxSwitched {
		w.switched = append(w.switched, switching{t, smp.On()})
	}
	w.isOn, w.wasRead = smp.On(), true
}

func (w *walker) begin(k *store.Tick) error {
	for c := range w.fitted {
		w.fitted[c] = k.Frame.Fitted(frame.Channel(c))
	}
	if w.cfg == nil {
		return nil
	}
	e, err := engine.New(replay.FitTo(*w.cfg, replay.Fitted(&k.Frame)))
	if err != nil {
		return fmt.Errorf("cannot use the config of the record: %w", err)
	}
	w.e, w.known = e, true
	return nil
}

func (w *walker) state(st machine.State, t time.Duration) {
	n := len(w.states)
	if n > 0 && w.states[n-1].state == st {
		return
	}
	if n > 0 {
		w.states[n-1].to = t
	}
	w.states = append(w.states, stateSpan{state: st, from: t, to: t})
}

func (w *walker) end() {
	if n := len(w.states); n > 0 {
		w.states[n-1].to = w.last
	}
}

// stateAt returns the state at a time; Unknown outside of what was walked.
func (w *walked) stateAt(t time.Duration) stateSpan {
	for i := range w.states {
		if s := &w.states[i]; t >= s.from && (t < s.to || i == len(w.states)-1 && t == s.to) {
			return *s
		}
	}
	return stateSpan{from: t, to: t}
}

// turned is how the pump went on after a moment.
type turned struct {
	// until is the last moment at which it is known to have turned.
	until time.Duration
	// stood tells that readings show it standing right after that, unknown that
	// no reading tells what came then; neither, that the frames end there.
	stood, unknown bool
	// dark is for how long in between no reading told whether it turned.
	dark time.Duration
}

// turnsUntil follows the pump after t. A time in which it can't be told whether
// it turned is no stop, and no turning either: it counts as dark where the pump
// is seen to turn again. What comes after the limit is not looked at.
func (w *walked) turnsUntil(t, limit time.Duration) turned {
	out := turned{until: t}
	dark := time.Duration(0)
	for i := range w.states {
		s := &w.states[i]
		switch {
		case s.to <= t:
		case s.from >= limit:
			return out
		case s.state == machine.Unknown:
			dark += min(s.to, limit) - max(s.from, t)
			out.unknown = true
		case s.state.Turning():
			out.until, out.unknown, out.dark = min(s.to, limit), false, out.dark+dark
			dark = 0
		default:
			out.stood = !out.unknown
			return out
		}
	}
	return out
}

// switchedOff returns when the switch was first turned off in a span; ok is
// false where it wasn't, or where it isn't watched.
func (w *walked) switchedOff(from, to time.Duration) (at time.Duration, ok bool) {
	for _, s := range w.switched {
		if !s.on && s.at > from && s.at <= to {
			return s.at, true
		}
	}
	return 0, false
}
