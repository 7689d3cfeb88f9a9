package remote

import (
	"context"
	"errors"
	"sync"
	"time"
)

// Sender sends the record to one store.
type Sender struct {
	opt    Options
	common []label
	post   *poster
	path   string

	// Only Run's goroutine uses these.
	st   state
	walk *walk
	// seenOut and seenIn are what the wire had counted when it was last looked
	// at.
	seenOut, seenIn uint64
	trouble         string

	mu    sync.Mutex
	stats Stats
}

const (
	// look is how often the record is looked at for a new minute.
	look = 5 * time.Second
	// margin is how long after its end a minute is surely in the record.
	margin = 3 * time.Second
	// again is when settings that the store didn't like are tried again.
	again = 5 * time.Minute
	// maxSamples is about what one message holds.
	maxSamples = 5000
	// maxMinutes of the record go into one message.
	maxMinutes = 60
	// maxCuts is how many messages a refused one is cut into to find what the
	// store doesn't take.
	maxCuts = 32
)

// New makes a sender and reads how far the record was sent. The error names
// all that is wrong with the options.
func New(opt Options) (*Sender, error) {
	if err := opt.check(); err != nil {
		return nil, err
	}
	s := &Sender{opt: opt, path: stateFile(opt.Folder, opt.URL)}
	s.common, _ = opt.common() // checked above
	var err error
	if s.post, err = newPoster(&s.opt, s.failing); err != nil {
		return nil, err
	}
	if s.st, err = load(s.path); err != nil {
		opt.Log.Warn("sending the record begins anew", "error", err)
	}
	s.publish()
	return s, nil
}

// Run sends until ctx ends.
func (s *Sender) Run(ctx context.Context) {
	for ctx.Err() == nil {
		begun := time.Now()
		minutes, err := s.turn(ctx)
		if err != nil && ctx.Err() == nil {
			s.failing(err.Error())
			s.publish()
			pause(ctx, again)
			continue
		}
		if minutes == 0 {
			pause(ctx, look)
			continue
		}
		pace := time.Duration(float64(minutes) * float64(minute) / s.opt.CatchUp)
		pause(ctx, pace-time.Since(begun))
	}
	s.post.wire.next.CloseIdleConnections()
}

func pause(ctx context.Context, d time.Duration) {
	if d <= 0 {
		return
	}
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-t.C:
	}
}

// turn sends one batch, and tells how many minutes of the record it was.
func (s *Sender) turn(ctx context.Context) (minutes int, err error) {
	r := s.opt.Record()
	if r == nil {
		return 0, nil
	}
	if err := s.sameRecord(ctx, r); err != nil {
		return 0, err
	}
	doubtful := s.st.After != nil // from before a restart
	if !doubtful {
		b, after, err := s.collect(ctx, r)
		if err != nil {
			s.walk = nil // it may be half way through a minute
			return 0, err
		}
		if after == nil {
			return 0, nil
		}
		if s.st.Pending, err = pack(b.all); err != nil {
			return 0, err
		}
		s.st.After = after
		if err := s.st.save(s.path); err != nil {
			s.walk, s.st.After, s.st.Pending = nil, nil, nil
			return 0, err
		}
	}
	return s.deliver(ctx, doubtful)
}

// sameRecord begins anew where there is no position, or one of another record.
func (s *Sender) sameRecord(ctx context.Context, r Record) error {
	name, err := r.RecordName(ctx)
	if err != nil {
		return err
	}
	if name == s.st.Record {
		return nil
	}
	if s.st.Record != "" {
		s.opt.Log.Warn("the record is another one: sending goes on at its present boot")
	}
	s.walk = nil
	if err := s.st.begin(ctx, r, name); err != nil {
		return err
	}
	return s.st.save(s.path)
}

// deliver sends what is pending and moves on. An error leaves it pending.
func (s *Sender) deliver(ctx context.Context, doubtful bool) (minutes int, err error) {
	all, err := unpack(s.st.Pending)
	if err != nil {
		s.opt.Log.Error("a batch is lost", "error", err)
		all = nil // the position moves on: a damaged file must not stop the rest
	}
	cuts := maxCuts
	if err := s.offer(ctx, all, doubtful, &cuts); err != nil {
		return 0, err
	}
	minutes = s.st.minutes()
	s.account(minutes)
	s.st.At, s.st.After, s.st.Pending = *s.st.After, nil, nil
	s.st.Counts.Minutes += uint64(minutes)
	if s.st.Wide == bare {
		s.st.Counts.Bare += uint64(minutes)
	}
	if err := s.st.save(s.path); err != nil {
		return 0, err
	}
	s.recovered()
	s.publish()
	return minutes, nil
}

// minutes of the record in the pending batch; across boots at least one.
func (s *state) minutes() int {
	if s.After.Boot == s.At.Boot {
		return max(1, int(s.After.Minute-s.At.Minute))
	}
	return max(1, int(s.After.Minute))
}

// offer sends a message. One that is refused is cut until the parts are found
// that the store won't take; those are counted and given up.
func (s *Sender) offer(ctx context.Context, all []series, doubtful bool, cuts *int) error {
	n := count(all)
	if n == 0 {
		return nil
	}
	*cuts--
	got, err := s.post.send(ctx, all, doubtful)
	switch got {
	case taken:
		s.st.Counts.Sent += uint64(n)
		return nil
	case known:
		s.st.Counts.Known += uint64(n)
		return nil
	case refused:
		first, second, ok := halves(all)
		if !ok || *cuts < 2 {
			s.st.Counts.Refused += uint64(n)
			s.opt.Log.Warn("the store refused a part of the record", "samples", n, "error", err)
			return nil
		}
		return errors.Join(s.offer(ctx, first, doubtful, cuts), s.offer(ctx, second, doubtful, cuts))
	}
	return err
}

// account takes what the wire has counted since to the day and to the price of
// a minute.
func (s *Sender) account(minutes int) {
	out, in := s.post.wire.out.Load(), s.post.wire.in.Load()
	bytes := int64(out - s.seenOut + in - s.seenIn)
	s.st.Counts.BytesOut += out - s.seenOut
	s.st.Counts.BytesIn += in - s.seenIn
	s.seenOut, s.seenIn = out, in
	s.st.Spent.of(time.Now(), bytes)
	s.st.Spent.learn(s.st.Wide, bytes, minutes)
}
