package engine

import "math"

// bounceState follows a reading that goes to and fro, as from a loose plug.
type bounceState struct {
	// side is where the last reading lay: above the mean by much 1, below -1, or
	// near it 0. swings counts how often it left for a side lately.
	side   int8
	swings float64
	// on is whether the reading was found to bounce and has not come to rest.
	on bool
}

const (
	// bounceS is the memory of the swings in seconds, and bounceRows the least of
	// it in readings.
	bounceS, bounceRows = 5.0, 10
	// bounceSwings are as many as a loose plug makes in that time and one step or
	// one hammer of the pipes doesn't. Common practice, no source.
	bounceSwings = 3
)

// bounces reports a reading whose noise is beyond the most of a sound sensor's.
// The RMS alone would also be large after a step, for as long as its memory: a
// hose that is kinked must not make its own gauge suspect. So the reading must
// have gone off and come back some times as well.
func (sig *Signal) bounces(st *signalState, offMean, dtS float64) bool {
	b := &st.bounce
	if sig.MaxNoise <= 0 || st.settledS == 0 {
		*b = bounceState{}
		return false
	}
	side := int8(0)
	switch {
	case offMean > 0.5*sig.MaxNoise:
		side = 1
	case offMean < -0.5*sig.MaxNoise:
		side = -1
	}
	b.swings -= float64(b.swings * gainOf(dtS, math.Max(bounceS, bounceRows*dtS)))
	if side != 0 && side != b.side {
		b.swings++
	}
	b.side = side
	rms := math.Sqrt(st.noiseSq)
	loud := st.settledS > noiseS && rms > sig.MaxNoise && b.swings >= bounceSwings
	b.on = loud || b.on && rms > 0.5*sig.MaxNoise
	return b.on
}
