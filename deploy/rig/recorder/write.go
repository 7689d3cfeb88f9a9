//go:build rig && linux

package main

import (
	"fmt"

	"headroom/daemon/store"
)

// actEvery is after how many syncs somebody does something.
const actEvery = 3

// write records until the power fails, synced each second of the job's time
// and at each transition, as the daemon does. A line goes out only after what
// it tells is safe.
func write(dir string) error {
	s, err := store.Open(dir, options())
	if err != nil {
		return err
	}
	fmt.Println("begin", s.Boot())
	j, err := newJob(s.Boot())
	if err != nil {
		return err
	}
	events, acts := 0, 0
	for syncs := 0; ; {
		k := j.next()
		s.NoteTotals(&k.totals)
		if err := s.Append(k.t, begun.Add(k.t), &k.raw, &k.v); err != nil {
			return err
		}
		events += len(k.v.Transitions())
		if j.n%10 != 0 && len(k.v.Transitions()) == 0 {
			continue
		}
		if err := s.Sync(); err != nil {
			return err
		}
		if syncs++; syncs%actEvery == 0 {
			a, err := s.Act(actOf(acts+1, k))
			if err != nil {
				return err
			}
			acts = a.N
		}
		fmt.Println("safe", s.Boot(), j.n, events, acts)
	}
}

// actOf is what somebody did after a step.
func actOf(n int, k *step) store.Act {
	return store.Act{T: k.t, Wall: begun.Add(k.t), Who: "invented", What: "note", Text: fmt.Sprintf("act %d at %v", n, k.t)}
}
