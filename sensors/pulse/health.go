package pulse

import (
	"fmt"
	"time"

	"headroom/rules/frame"
)

// The account is taken every accountEvery. Shares of rejected edges beyond
// which the reading asks for service, or can't be trusted: our judgement, no
// source.
const (
	accountEvery  = 10 * time.Second
	rejectService = 0.02
	rejectSuspect = 0.2
)

// Counts of a pulse input since it was made.
type Counts struct {
	// Pulses that were counted, those known by a gap among them.
	Pulses uint64
	// Lost pulses: dropped by the kernel because they were read too late.
	Lost uint64
	// Rejected edges: impossibly soon after the one before.
	Rejected uint64
}

// health turns the counts of the last whole stretch of accountEvery into a
// status, so that one bad edge doesn't flicker and a steady fault stays seen.
type health struct {
	from    time.Duration
	before  Counts
	lossRun int
	status  frame.Status
	note    string
}

func (h *health) step(now time.Duration, c Counts) {
	if now-h.from < accountEvery {
		return
	}
	pulses, lost, rejected := c.Pulses-h.before.Pulses, c.Lost-h.before.Lost, c.Rejected-h.before.Rejected
	h.from, h.before = now, c
	if lost > 0 {
		h.lossRun++
	} else {
		h.lossRun = 0
	}
	share := 0.0
	if rejected > 0 {
		share = float64(rejected) / float64(pulses+rejected)
	}
	h.status, h.note = frame.Good, ""
	switch {
	case share > rejectSuspect:
		h.status = frame.Suspect
		h.note = fmt.Sprintf("%d of %d edges came impossibly soon: interference or a bouncing contact; check the shield and the ground", rejected, pulses+rejected)
	case share > rejectService:
		h.status = frame.Service
		h.note = fmt.Sprintf("%d of %d edges came impossibly soon and are left out: check the shield and the ground", rejected, pulses+rejected)
	case h.lossRun >= 2:
		h.status = frame.Service
		h.note = fmt.Sprintf("%d of %d pulses were read too late; they are known by their numbers and counted: the computer is overloaded", lost, pulses)
	}
}
