package engine

import (
	"math"

	"headroom/rules/frame"
	"headroom/rules/machine"
)

const (
	// maxNormal is how many channels may be compared.
	maxNormal = 8
	// keptNormal is how many values of each are kept while learning; a long
	// learning keeps every n-th.
	keptNormal = 512
)

// normalState learns what is normal for this machine while it runs, and keeps
// the smoothed values that are compared with it.
type normalState struct {
	learnedS float64
	sinceS   float64
	done     bool
	ch       [maxNormal]normalChannel
	kept     [maxNormal][keptNormal]float64
}

type normalChannel struct {
	smooth     float64
	primed     bool
	n          int
	mean, sd   float64
	comparable bool
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
	if len(x.e.normal) == 0 {
		v.cannot(NotFitted, frame.NumChannels)
		return
	}
	if x.s.machine.State != machine.Running {
		return // judged as not now
	}
	if !x.s.machine.Settled(x.t, settleTime) {
		v.cannot(NotNow, frame.NumChannels)
		return
	}
	n := &x.s.normal
	n.follow(x)
	if !n.done {
		n.learn(x)
		v.cannot(Learning, frame.NumChannels)
		return
	}
	for _, c := range x.e.normal {
		if !x.smp[c].OK() {
			v.cannot(NoReading, c)
			return
		}
	}
	n.compare(x, v)
}

// follow advances the smoothed value of each chosen channel.
func (n *normalState) follow(x *view) {
	gain := gainOf(x.s.dtS, math.Max(x.cfg.Normal.WindowS, 1e-3))
	for i, c := range x.e.normal {
		ch := &n.ch[i]
		switch s := x.smp[c]; {
		case !s.OK():
		case !ch.primed:
			ch.primed, ch.smooth = true, s.Value
		default:
			ch.smooth += float64(gain * (s.Value - ch.smooth))
		}
	}
}

// learn keeps the smoothed values, spread evenly over the time of learning.
// The first window is left out, since the filter still settles.
func (n *normalState) learn(x *view) {
	cfg := &x.cfg.Normal
	n.learnedS += x.s.dtS
	n.sinceS += x.s.dtS
	if n.learnedS < cfg.WindowS {
		return
	}
	if n.sinceS >= cfg.LearnS/keptNormal {
		n.sinceS = 0
		for i, c := range x.e.normal {
			ch := &n.ch[i]
			if ch.primed && ch.n < keptNormal && x.smp[c].OK() {
				n.kept[i][ch.n] = ch.smooth
				ch.n++
			}
		}
	}
	if n.learnedS >= cfg.LearnS {
		n.done = true
		for i := range x.e.normal {
			n.ch[i].settle(n.kept[i][:n.ch[i].n])
		}
	}
}

const (
	// leastKept is how many values a spread needs to mean anything.
	leastKept = 20
	// clipAt is how many robust standard deviations from the median a value
	// may lie to count as normal. A machine that ran badly for a part of the
	// time of learning must not make bad normal. Source: sigma clipping, any
	// text on robust statistics; 1.4826 makes the median absolute deviation of
	// a normal distribution its standard deviation.
	clipAt       = 3.0
	madToSigma   = 1.4826
	leastSpread  = 0.005
	leastSpreadN = 1e-12
)

// settle finds mean and standard deviation of what was kept, without its
// outliers. The spread is never below half a percent of the mean: a channel
// that happened to stand still while learning must not cry at its first
// breath (common practice, no source).
func (ch *normalChannel) settle(kept []float64) {
	if len(kept) < leastKept {
		return
	}
	median, mad := medianAndDeviation(kept)
	lo, hi := median-float64(clipAt*madToSigma*mad), median+float64(clipAt*madToSigma*mad)
	var n, mean, m2 float64
	for _, y := range kept {
		if mad > 0 && (y < lo || y > hi) {
			continue
		}
		n++
		d := y - mean
		mean += d / n
		m2 += float64(d * (y - mean))
	}
	if n < 2 {
		return
	}
	ch.mean = mean
	ch.sd = math.Max(math.Sqrt(m2/(n-1)), math.Max(leastSpread*math.Abs(mean), leastSpreadN))
	ch.comparable = true
}

// medianAndDeviation sorts kept and returns its median and the median of the
// absolute deviations from it.
func medianAndDeviation(kept []float64) (median, mad float64) {
	sortFloats(kept)
	median = kept[len(kept)/2]
	var dev [keptNormal]float64
	for i, y := range kept {
		dev[i] = math.Abs(y - median)
	}
	d := dev[:len(kept)]
	sortFloats(d)
	return median, d[len(d)/2]
}

// sortFloats is a shell sort: no allocation, the same order everywhere, and it
// runs once in the life of a state.
func sortFloats(a []float64) {
	for gap := len(a) / 2; gap > 0; gap /= 2 {
		for i := gap; i < len(a); i++ {
			for j := i; j >= gap && a[j] < a[j-gap]; j -= gap {
				a[j], a[j-gap] = a[j-gap], a[j]
			}
		}
	}
}

func (n *normalState) compare(x *view, v *Verdict) {
	for i, c := range x.e.normal {
		ch := &n.ch[i]
		if !ch.comparable {
			continue
		}
		z := math.Abs(ch.smooth-ch.mean) / ch.sd
		if v.About != frame.NumChannels && z <= v.Value {
			continue
		}
		v.Value, v.About, v.n = z, c, 0
		v.use(TermNormal, ch.mean)
		v.use(TermSpread, ch.sd)
	}
	if v.About == frame.NumChannels {
		v.cannot(Learning, frame.NumChannels)
	}
}
