//go:build rig && linux

package main

import (
	"context"
	"fmt"
	"time"

	"headroom/daemon/store"
)

// look opens and checks a record that the daemon made, of whose frames nothing
// is known beforehand, and tells what is in it.
func look(dir string) error {
	s, err := store.Open(dir, store.Options{Info: store.Info{Software: "0.0.0-rig"}})
	if err != nil {
		return err
	}
	ctx := context.Background()
	if err := sound(ctx, s); err != nil {
		return err
	}
	for boot := uint64(1); boot < s.Boot(); boot++ {
		if err := lookAt(ctx, s, boot); err != nil {
			return err
		}
	}
	if err := s.Close(); err != nil {
		return err
	}
	fmt.Println("checked")
	return nil
}

// sound says what opening the record found damaged, what a check of all of it
// finds, and where its chain is broken.
func sound(ctx context.Context, s *store.Store) error {
	for _, p := range s.Health().Problems {
		fmt.Println("wrong", p)
	}
	found, err := s.Check(ctx)
	if err != nil {
		return err
	}
	for _, p := range found.Problems {
		fmt.Println("wrong", p)
	}
	for _, l := range found.Lost {
		fmt.Println("wrong", l.Error())
	}
	chain, err := s.VerifyChain(ctx)
	if err != nil {
		return err
	}
	for i := range chain.Breaks {
		fmt.Println("wrong", chain.Breaks[i].String())
	}
	return nil
}

// lookAt tells "boot BOOT FRAMES EVENTS ACTS", "last BOOT MS" of the last frame,
// "gap BOOT MS" of the longest gap, and each act and event by name.
func lookAt(ctx context.Context, s *store.Store, boot uint64) error {
	id := store.RunID{Boot: boot}
	frames, last, gap := 0, time.Duration(0), time.Duration(0)
	for k, err := range s.Frames(ctx, id, 0, 0) {
		if err != nil {
			fmt.Println("wrong", err)
			break
		}
		if frames > 0 {
			gap = max(gap, k.T-last)
		}
		frames, last = frames+1, k.T
	}
	events, err := s.Events(ctx, id)
	if err != nil {
		return err
	}
	acts, err := s.Acts(ctx, id)
	if err != nil {
		return err
	}
	for i := range events {
		fmt.Println("event", boot, events[i].Alarm, events[i].Raised, events[i].T.Milliseconds())
	}
	for i := range acts {
		fmt.Println("act", boot, acts[i].What, acts[i].Alarm, acts[i].T.Milliseconds())
	}
	fmt.Println("boot", boot, frames, len(events), len(acts))
	fmt.Println("last", boot, last.Milliseconds())
	fmt.Println("gap", boot, gap.Milliseconds())
	return nil
}
