package engine

import (
	"time"

	"headroom/rules/frame"
	"headroom/rules/machine"
)

// drawn is what an inlet that was sucked empty says of the pump.
type drawn uint8

const (
	// notDrawn: nothing sucks, or it is left from a stop.
	notDrawn drawn = iota
	// drawnSlowly: it may be a pump whose filter clogs, or hot water that cools
	// behind a shut tap.
	drawnSlowly
	// drawnAtOnce: a supply was cut off from a pump that turns.
	drawnAtOnce
)

const (
	// drawnPa is the gauge pressure below which an inlet counts as sucked empty
	// while nothing is seen to turn. It lies deeper than suctionPa, since a hose
	// taken off its tap a floor below hangs on a standing pump with all the
	// height of its water: 5 m make -49 kPa. Source of the pressure: hydrostatics;
	// of the height: common practice, no source.
	drawnPa = -50e3
	// drawnFor is how soon a pump has sucked its hose empty once the supply is
	// cut off; cooling takes minutes. Common practice, no source.
	drawnFor = 10 * time.Second
)

// suctionState follows the inlet of a machine that isn't seen to turn.
type suctionState struct {
	// standing is whether it is so, standsSince for how long.
	standing    bool
	standsSince time.Duration
	// fedAt is when the inlet last was fed meanwhile; valid if fed.
	fedAt time.Duration
	fed   bool
	is    drawn
	// yes is whether current or switch or shaft said that the pump turns.
	yes bool
}

// follow notes an inlet that is sucked empty while the machine stands. A stop
// leaves suction behind, but none arises at a pump that stands: it turns, and
// what says no is dead. Once a channel that can say yes has said so and then
// no, the suction is left from that stop.
func (d *suctionState) follow(v votes, in frame.Sample, st machine.State, t time.Duration) {
	yes := v.speed == machine.Yes || v.current == machine.Yes || v.contact == machine.Yes
	if d.yes && !yes {
		d.is, d.fed = notDrawn, false
	}
	d.yes = yes
	stands := !st.Turning() && st != machine.Stopping
	if stands != d.standing {
		d.standing, d.standsSince, d.fed = stands, t, false
	}
	switch {
	case !in.OK():
	case in.Value > 0.5*suctionPa:
		d.is = notDrawn
		if stands && t-d.standsSince >= contradictFor[noCurrentWhileTurning] {
			d.fedAt, d.fed = t, true
		}
	case in.Value < drawnPa && d.fed && d.is == notDrawn:
		d.is = drawnSlowly
		if t-d.fedAt <= drawnFor {
			d.is = drawnAtOnce
		}
	}
}
