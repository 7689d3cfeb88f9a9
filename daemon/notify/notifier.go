package notify

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strconv"
	"sync"
	"sync/atomic"
	"time"

	"headroom/rules/engine"
)

// Notifier sends a store's alarms to its targets.
type Notifier struct {
	opt     Options
	feed    feed
	workers []*worker
	missed  atomic.Uint64
}

// New checks the options and prepares the targets. Nothing is sent and nothing
// connects before Run. The error names everything that is wrong, with its mend.
func New(store Source, opt Options) (*Notifier, error) {
	if err := opt.check(); err != nil {
		return nil, err
	}
	n := &Notifier{opt: opt}
	n.feed = feed{store: store, opt: &n.opt, run: runName(opt.Boot), put: n.put}
	n.feed.miss = func(lost uint64) { n.missed.Add(lost) }
	var blanks [engine.NumAlarms]Notification
	for i := range blanks {
		blanks[i] = n.feed.blank(engine.AlarmID(i))
	}
	for _, t := range opt.Targets {
		n.workers = append(n.workers, newWorker(t, newQueue(&blanks), opt.Log))
	}
	return n, nil
}

// runName tells this run from others. Where nobody counts the runs it is
// random, since an ID that came before would be taken for a repetition.
func runName(boot uint64) string {
	if boot > 0 {
		return strconv.FormatUint(boot, 10)
	}
	return fmt.Sprintf("x%016x", rand.Uint64())
}

func (n *Notifier) put(x Notification) {
	for _, w := range n.workers {
		w.offer(x)
	}
}

// Run sends until ctx ends. Then it reads the store once more, sends what
// waits and says goodbye, all of it within Options.Drain; what is left after
// that is counted as unsent. A Notifier runs once.
func (n *Notifier) Run(ctx context.Context) {
	soft, fed := context.WithCancel(context.WithoutCancel(ctx))
	defer fed()
	hard, kill := context.WithCancel(context.WithoutCancel(ctx))
	defer kill()
	var wg sync.WaitGroup
	for _, w := range n.workers {
		wg.Go(func() { w.run(soft, hard) })
	}
	n.feed.follow(ctx)
	late := time.AfterFunc(n.opt.Drain, kill)
	defer late.Stop()
	fed() // after the last read, so that what it queued is sent too
	wg.Wait()
}

// Stats returns the counts so far. It may be called at any time.
func (n *Notifier) Stats() Stats {
	s := Stats{Missed: n.missed.Load()}
	for _, w := range n.workers {
		s.Targets = append(s.Targets, w.stats())
	}
	return s
}
