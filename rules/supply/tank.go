package supply

import "math"

// Duty is how a buffer tank is used.
type Duty struct {
	// OnS and OffS are the seconds of spraying and of pause in a cycle; OnS > 0,
	// OffS >= 0, each at most a day.
	OnS, OffS float64
	// JobS is how long the tank should last, seconds with the pauses, 0 to a
	// day.
	JobS float64
}

// maxDutyS is a day: no drain takes longer in one go.
const maxDutyS = 86400.0

// TankLast returns how long a full tank of volumeM3 lasts, in seconds with the
// pauses, when spraying draws drawM3s and the supply fills at fillM3s all the
// time: endless=true when each pause makes up for the spraying before it.
// ok=false for a volume outside 0..1000 m3, a flow outside the package's range
// or a duty outside its range. Source: volume balance.
func TankLast(volumeM3, drawM3s, fillM3s float64, d Duty) (lastS float64, endless, ok bool) {
	if !within(volumeM3, 0, 1000) || !within(drawM3s, MinFlowM3s, MaxFlowM3s) || !within(fillM3s, 0, MaxFlowM3s) ||
		!within(d.OnS, 1e-3, maxDutyS) || !within(d.OffS, 0, maxDutyS) {
		return 0, false, false
	}
	net := drawM3s - fillM3s
	if net <= 0 {
		return 0, true, true
	}
	spent, regained := float64(net*d.OnS), float64(fillM3s*d.OffS)
	if volumeM3 < spent {
		return volumeM3 / net, false, true
	}
	if regained >= spent {
		return 0, true, true
	}
	// Whole cycles until what is left no longer carries one spraying. A tank
	// that is nearly made up each cycle lasts beyond all use: called endless.
	cycles := math.Floor((volumeM3-spent)/(spent-regained)) + 1
	if !(cycles <= 1e9) {
		return 0, true, true
	}
	left := math.Max(volumeM3-float64(cycles*(spent-regained)), 0)
	return float64(cycles*(d.OnS+d.OffS)) + left/net, false, true
}
