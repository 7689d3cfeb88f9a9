package engine

import "math"

// bounceState follows a reading that goes to and fro, as from a loose plug.
type bounceState struct {
	// low is whether the reading fell well below its mean and has not come back
	// above it; dips counts how often it fell lately.
	low  bool
	dips float64
	// on is whether the reading was found to bounce and has not come to rest.
	on bool
}

const (
	// bounceS is the memory of the dips in seconds.
	bounceS = 5.0
	// bounceDips are as many as a loose plug makes in that time. A hand makes one
	// or so in a second at the trigger, a hammer of the pipes goes up. Readings a
	// second apart can't tell them from a plug, and never come to as many. Common
	// practice, no source.
	bounceDips = 7
)

// bounces reports a reading whose noise is beyond the most of a sound sensor's.
// The RMS alone would also be large after a step, for as long as its memory: a
// hose that is kinked must not make its own gauge suspect. So the reading must
// have fallen and come back faster than any hand makes it as well.
func (sig *Signal) bounces(st *signalState, offMean, dtS float64) bool {
	b := &st.bounce
	if sig.MaxNoise <= 0 || st.settledS == 0 {
		*b = bounceState{}
		return false
	}
	b.dips -= float64(b.dips * gainOf(dtS, bounceS))
	switch {
	case offMean > 0.25*sig.MaxNoise:
		b.low = false
	case offMean < -0.5*sig.MaxNoise && !b.low:
		b.low = true
		b.dips++
	}
	rms := math.Sqrt(st.noiseSq)
	loud := st.settledS > noiseS && rms > sig.MaxNoise && b.dips >= bounceDips
	b.on = loud || b.on && rms > 0.5*sig.MaxNoise
	return b.on
}
