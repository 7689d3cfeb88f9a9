package notify

import (
	"context"
	"errors"
	"math/rand/v2"
	"time"
)

// pauses are the waits after failed attempts: they double from least to most.
type pauses struct {
	least, most time.Duration
	next        time.Duration
}

// reset begins again with the shortest.
func (p *pauses) reset() { p.next = p.least }

// after returns how long to wait after a failure, and how long of it at least
// even when there is news. A random part of up to half is taken off, so that
// machines which lost the same server don't all come back at once. What the
// target asks for counts more than our own pace, up to most.
func (p *pauses) after(err error) (wait, least time.Duration) {
	full := max(p.next, p.least)
	p.next = min(2*full, p.most)
	wait = full/2 + rand.N(full/2+1)
	least = min(wait, p.least)
	var f *Failure
	if errors.As(err, &f) && f.After > wait {
		wait = min(f.After, max(p.most, wait))
		least = wait
	}
	return wait, least
}

// rest waits until d is over, wake gives something, or ctx ends; a nil wake
// never does.
func rest(ctx context.Context, d time.Duration, wake <-chan struct{}) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-t.C:
	case <-wake:
	}
}
