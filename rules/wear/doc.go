// Package wear tells how much of its stroke a plunger pump still delivers, and
// what is due to be looked after.
//
// It owns volumetric efficiency, its comparison with the machine's own
// baseline, the slip flow and what its growth with pressure says about its
// cause, and the counters of hours, starts and uses against service intervals.
// It refuses to extrapolate a baseline, to name a cause that the readings
// don't separate, and to take any reading for wear that could be starvation:
// cavitation, air and a slipping belt lower the efficiency just as well, so
// the caller must give it steady readings taken with headroom on the suction
// side and the bypass shut.
//
// Efficiencies and shares are fractions, flows m3/s, speeds revolutions per
// second of the crankshaft, pressures pascal (the difference across the pump),
// temperatures kelvin, times seconds. The zero value of every status is
// Unknown. An aid to judgement and no safety device.
//
// Sources: positive displacement pump terms as in any pump handbook (HI and
// API 674 use them); the numbers compared with are in checks.go.
package wear

// The bounds of the inputs; beyond them a reading is broken.
const (
	maxFlowM3s  = 1
	maxSpeedHz  = 200
	maxPa       = 5e8
	maxDispM3   = 0.1
	minTempK    = 263.15
	maxTempK    = 423.15
	minViscPaS  = 1e-5
	maxViscPaS  = 1
	maxPlungers = 12
)

// within reports lo <= x <= hi; false for NaN.
func within(x, lo, hi float64) bool { return x >= lo && x <= hi }

// upTo reports 0 < x <= hi; false for NaN.
func upTo(x, hi float64) bool { return x > 0 && x <= hi }
