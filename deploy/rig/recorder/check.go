//go:build rig && linux

package main

import (
	"context"
	"fmt"
	"slices"
	"time"

	"headroom/daemon/store"
)

// check opens the record as every start does, which takes over what the cut
// left, and tells what is in it.
func check(dir string, from uint64) error {
	s, err := store.Open(dir, options())
	if err != nil {
		return err
	}
	ctx := context.Background()
	if err := sound(ctx, s); err != nil {
		return err
	}
	runs, err := s.ListRuns(ctx, 0)
	if err != nil {
		return err
	}
	slices.Reverse(runs)
	for boot := uint64(1); boot < s.Boot(); boot++ {
		if err := tell(ctx, s, boot, boot >= from, runs); err != nil {
			return err
		}
	}
	fmt.Println("torn", s.Health().Torn)
	if err := s.Close(); err != nil {
		return err
	}
	fmt.Println("checked")
	return nil
}

// tell counts what there is of a boot and, when it shall compare, makes the
// job once more beside it.
func tell(ctx context.Context, s *store.Store, boot uint64, compare bool, runs []store.Run) error {
	j, err := newJob(boot)
	if err != nil {
		return err
	}
	id := store.RunID{Boot: boot}
	frames := 0
	var want wanted
	for k, err := range s.Frames(ctx, id, 0, 0) {
		if err != nil {
			fmt.Println("wrong", err)
			break
		}
		frames++
		if compare {
			want.frame(j.next(), &k)
		}
	}
	events, err := s.Events(ctx, id)
	if err != nil {
		return err
	}
	acts, err := s.Acts(ctx, id)
	if err != nil {
		return err
	}
	for i := range acts {
		if a := &acts[i]; a.N != i+1 || a.What != "note" || a.Text != fmt.Sprintf("act %d at %v", a.N, a.T) {
			want.wrong("act %d reads %q", i+1, a.Text)
		}
	}
	if compare {
		want.events(events)
	}
	want.runs(boot, frames, runs)
	if want.count > 0 {
		fmt.Printf("wrong boot %d: %d times, first: %s\n", boot, want.count, want.first)
	}
	fmt.Println("boot", boot, frames, len(events), len(acts))
	return nil
}

// wanted compares what there is with what must be, and keeps the first
// difference.
type wanted struct {
	count       int
	first       string
	transitions []string
}

func (w *wanted) wrong(format string, args ...any) {
	if w.count++; w.count == 1 {
		w.first = fmt.Sprintf(format, args...)
	}
}

func (w *wanted) frame(k *step, got *store.Tick) {
	if got.T != k.t || got.Frame != k.raw || got.Wall.Sub(begun.Add(k.t)).Abs() > time.Millisecond {
		w.wrong("frame at %v, %v on the clock, and should be at %v", got.T, got.Wall, k.t)
	}
	for _, tr := range k.v.Transitions() {
		w.transitions = append(w.transitions, fmt.Sprintf("%v %t %v", tr.Alarm, tr.Raised, tr.T))
	}
}

// events of a boot are those of its frames, in order.
func (w *wanted) events(got []store.Event) {
	for i := range got {
		e := &got[i]
		if is := fmt.Sprintf("%v %t %v", e.Alarm, e.Raised, e.T); i >= len(w.transitions) || is != w.transitions[i] {
			w.wrong("transition %d is %s", i+1, is)
		}
	}
	if len(got) < len(w.transitions) {
		w.wrong("%d of %d transitions of its frames", len(got), len(w.transitions))
	}
}

// runs of a boot: all of them, in order, each stopped but for the one that the
// cut met, which ends with the last frame there is.
func (w *wanted) runs(boot uint64, frames int, all []store.Run) {
	n := 0
	for i := range all {
		r := &all[i]
		if r.ID.Boot != boot {
			continue
		}
		n++
		start, stop := (n-1)*(runFor+standFor), (n-1)*(runFor+standFor)+runFor-1
		start = max(start, 1)
		ended := "stopped"
		if frames < stop+int(holdOff/tickEvery)+1 {
			ended, stop = "cut", frames
		}
		if r.ID.N != n || r.Start != time.Duration(start)*tickEvery || r.Ended != ended || r.End != time.Duration(stop)*tickEvery {
			w.wrong("run %v from %v to %v, %s, and should be from frame %d to %d, %s", r.ID, r.Start, r.End, r.Ended, start, stop, ended)
		}
	}
	if want := (frames + runFor + standFor) / (runFor + standFor); frames > 0 && n != want {
		w.wrong("%d runs and not %d in %d frames", n, want, frames)
	}
}
