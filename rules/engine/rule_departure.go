package engine

import (
	"math"

	"headroom/rules/detmath"
	"headroom/rules/frame"
	"headroom/rules/machine"
)

// normalState learns what is normal for this machine while it runs, and keeps
// the smoothed values that are compared with it.
type normalState struct {
	learnedS float64
	ch       [frame.NumChannels]normalChannel
}

type normalChannel struct {
	smooth   float64
	primed   bool
	n        float64
	mean, m2 float64
}

// departure compares each chosen channel's recent mean with what it was while
// the machine's normal was learned, in units of the spread it had then. The
// value is the largest such distance. It says that something has changed, not
// what.
func departure(x *view, v *Verdict) {
	if x.cfg.Normal.LearnS <= 0 {
		v.cannot(NotSet, frame.NumChannels)
		return
	}
	fitted, good := x.normalChannels()
	switch {
	case !fitted:
		v.cannot(NotFitted, frame.NumChannels)
		return
	case x.s.machine.State != machine.Running:
		return // judged as not now
	}
	n := &x.s.normal
	n.follow(x)
	if n.learnedS < x.cfg.Normal.LearnS {
		n.learn(x)
		v.cannot(Learning, frame.NumChannels)
		return
	}
	if !good {
		v.cannot(NoReading, x.firstBad())
		return
	}
	n.compare(x, v)
}

func (x *view) normalChannels() (fitted, good bool) {
	good = true
	for c, on := range x.cfg.Normal.Channels {
		if !on || !x.cfg.Signals[c].Fitted {
			continue
		}
		fitted = true
		good = good && x.smp[c].OK()
	}
	return fitted, fitted && good
}

func (x *view) firstBad() frame.Channel {
	for c, on := range x.cfg.Normal.Channels {
		if on && x.cfg.Signals[c].Fitted && !x.smp[c].OK() {
			return frame.Channel(c)
		}
	}
	return frame.NumChannels
}

// follow advances the smoothed value of each chosen channel.
func (n *normalState) follow(x *view) {
	gain := 1 - detmath.Exp(-x.s.dtS/math.Max(x.cfg.Normal.WindowS, 1e-3))
	for c, on := range x.cfg.Normal.Channels {
		if !on || !x.smp[c].OK() {
			continue
		}
		ch := &n.ch[c]
		if !ch.primed {
			ch.primed, ch.smooth = true, x.smp[c].Value
			continue
		}
		ch.smooth += float64(gain * (x.smp[c].Value - ch.smooth))
	}
}

// learn adds the smoothed values to their mean and variance (Welford's
// recurrence). The first window is left out, since the filter still settles.
func (n *normalState) learn(x *view) {
	n.learnedS += x.s.dtS
	if n.learnedS < x.cfg.Normal.WindowS {
		return
	}
	for c, on := range x.cfg.Normal.Channels {
		ch := &n.ch[c]
		if !on || !ch.primed || !x.smp[c].OK() {
			continue
		}
		ch.n++
		d := ch.smooth - ch.mean
		ch.mean += d / ch.n
		ch.m2 += float64(d * (ch.smooth - ch.mean))
	}
}

// leastSpread is the least spread that is believed, as a share of the mean:
// a channel that happened to stand still while learning must not cry at its
// first breath. Common practice, no source.
const leastSpread = 0.005

func (n *normalState) compare(x *view, v *Verdict) {
	for c, on := range x.cfg.Normal.Channels {
		ch := &n.ch[c]
		if !on || ch.n < 10 || !x.cfg.Signals[c].Fitted {
			continue
		}
		sd := math.Max(math.Sqrt(ch.m2/(ch.n-1)), leastSpread*math.Abs(ch.mean))
		if sd <= 0 {
			continue
		}
		if z := math.Abs(ch.smooth-ch.mean) / sd; v.About == frame.NumChannels || z > v.Value {
			v.Value, v.About = z, frame.Channel(c)
			v.n = 0
			v.use(TermNormal, ch.mean)
			v.use(TermSpread, sd)
		}
	}
	if v.About == frame.NumChannels {
		v.cannot(Learning, frame.NumChannels)
	}
}
