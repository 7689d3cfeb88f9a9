package record

import (
	"context"
	"errors"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

// memory is a log in memory whose troubles a test sets.
type memory struct {
	mu sync.Mutex
	// taken are the times appended, safe how many of them are synced.
	taken  []time.Duration
	safe   int
	syncs  []time.Time
	err    error
	most   int
	hang   chan struct{}
	closed bool
}

func (m *memory) Append(t time.Duration, _ time.Time, _ *frame.Frame, _ *engine.Verdicts) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.most > 0 && len(m.taken)-m.safe >= m.most {
		return ErrFull
	}
	m.taken = append(m.taken, t)
	return nil
}

func (m *memory) Sync() error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.hang != nil {
		<-m.hang
	}
	m.syncs = append(m.syncs, time.Now())
	if m.err == nil {
		m.safe = len(m.taken)
	}
	return m.err
}

func (m *memory) Close() error {
	m.closed = true
	return m.Sync()
}

// look returns a copy of what there is, for reading beside the worker.
func (m *memory) look() (taken []time.Duration, safe int, syncs []time.Time) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Clone(m.taken), m.safe, slices.Clone(m.syncs)
}

func (m *memory) set(err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.err = err
}

// run starts the queue's worker in a bubble and returns how to end it.
func run(t *testing.T, q *Queue, open func() (Log, error)) (end func() error) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- q.Run(ctx, open) }()
	return func() error {
		cancel()
		return <-done
	}
}

func (k *tick) put(q *Queue) { q.Put(k.t, k.wall, &k.raw, k.v) }

func TestQueueSyncsEachSecondAndAlarmsAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m, q, g := &memory{}, NewQueue(64), newRig(t)
		end := run(t, q, func() (Log, error) { return m, nil })
		start := time.Now()
		for range 9 {
			k := g.next()
			k.put(q)
			time.Sleep(100 * time.Millisecond)
		}
		synctest.Wait()
		taken, safe, _ := m.look()
		require.Len(t, taken, 9)
		require.Zero(t, safe)
		k := g.next() // the flow fails
		require.NotEmpty(t, k.v.Transitions())
		k.put(q)
		synctest.Wait()
		_, safe, syncs := m.look()
		require.Equal(t, 10, safe, "at once")
		require.Equal(t, []time.Time{start.Add(900 * time.Millisecond)}, syncs)
		time.Sleep(2200 * time.Millisecond)
		synctest.Wait()
		_, _, syncs = m.look()
		require.Equal(t, []time.Time{start.Add(9e8), start.Add(10e8), start.Add(20e8), start.Add(30e8)}, syncs)
		require.NoError(t, end())
		require.True(t, m.closed)
		require.Equal(t, Health{}, q.Health())
	})
}

func TestQueueNeverWaitsForTheDisk(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m, q, g := &memory{hang: make(chan struct{})}, NewQueue(16), newRig(t)
		end := run(t, q, func() (Log, error) { return m, nil })
		k := g.next()
		k.put(q)
		time.Sleep(1500 * time.Millisecond) // the worker hangs in Sync now
		start := time.Now()
		alarms := 0
		for range 40 {
			k := g.next()
			alarms += len(k.v.Transitions())
			k.put(q)
		}
		require.Zero(t, time.Since(start))
		h := q.Health()
		// 16 places, of which 2 only alarms may take: at ticks 10, 11, 20, 21.
		require.Equal(t, Health{
			Dropped: 40 - 16, DroppedChanges: uint64(alarms - 4), Waiting: 16, Hanging: 500 * time.Millisecond,
		}, h)
		close(m.hang)
		require.NoError(t, end())
		want := []time.Duration{}
		for _, n := range []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 20, 21} {
			want = append(want, time.Duration(n)*100*time.Millisecond)
		}
		require.Equal(t, want, m.taken)
	})
}

func (q *Queue) waiting() int {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.n
}

func TestQueueBacksOffAndRecovers(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		full := errors.New("no space left")
		m, q, g := &memory{err: full, most: 100}, NewQueue(64), newRig(t)
		end := run(t, q, func() (Log, error) { return m, nil })
		start := time.Now()
		for range 400 {
			k := g.next()
			k.put(q)
			time.Sleep(100 * time.Millisecond)
		}
		synctest.Wait()
		// An alarm after 0.9 s tries at once; then pauses of 1, 2, 4, 8 and 16 s,
		// tried at the next chance after each.
		taken, _, syncs := m.look()
		require.Len(t, syncs, 6)
		for i, want := range []float64{0.9, 1.9, 3.9, 7.9, 15.9, 31.9} {
			require.InDelta(t, want, syncs[i].Sub(start).Seconds(), 0.2)
		}
		h := q.Health()
		require.Equal(t, "no space left", h.LastError)
		require.EqualValues(t, 6, h.Failures)
		waiting := q.waiting()
		require.GreaterOrEqual(t, waiting, 64-64/8, "full but for the places kept for alarms")
		require.EqualValues(t, 400, len(taken)+waiting+int(h.Dropped), "in the log's memory, in the queue, or counted")
		m.set(nil)
		time.Sleep(30 * time.Second)
		synctest.Wait()
		taken, safe, _ := m.look()
		require.Len(t, taken, 100+waiting)
		require.Equal(t, 100+waiting, safe)
		require.Empty(t, q.Health().LastError)
		require.NoError(t, end())
	})
}

func TestQueueOpensAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		readOnly := errors.New("read-only file system")
		m, q, g := &memory{}, NewQueue(64), newRig(t)
		var tries atomic.Int32
		end := run(t, q, func() (Log, error) {
			if tries.Add(1) < 4 {
				return nil, readOnly
			}
			return m, nil
		})
		k := g.next()
		k.put(q)
		time.Sleep(5 * time.Second)
		synctest.Wait()
		require.EqualValues(t, 3, tries.Load())
		require.Equal(t, "read-only file system", q.Health().LastError)
		time.Sleep(5 * time.Second)
		synctest.Wait()
		require.EqualValues(t, 4, tries.Load())
		_, safe, _ := m.look()
		require.Equal(t, 1, safe)
		require.Empty(t, q.Health().LastError)
		require.NoError(t, end())
	})
}

func TestQueueTellsOfTheLastWriting(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		gone := errors.New("the card is gone")
		m, q, g := &memory{err: gone}, NewQueue(64), newRig(t)
		end := run(t, q, func() (Log, error) { return m, nil })
		k := g.next()
		k.put(q)
		require.ErrorIs(t, end(), gone)
		require.Equal(t, "the card is gone", q.Health().LastError)
	})
}

func TestPutMakesNoGarbage(t *testing.T) {
	q := NewQueue(8)
	k := newRig(t).next()
	require.Zero(t, testing.AllocsPerRun(100, func() { k.put(q) }))
}

// noting is a log that also takes totals and losses.
type noting struct {
	memory
	totals []uint64
	losses []Loss
	// before is how many frames were there when each loss was told.
	before []int
}

func (n *noting) NoteTotals(t *engine.Totals) { n.totals = append(n.totals, t.Frames) }

func (n *noting) NoteLoss(l Loss) {
	n.losses = append(n.losses, l)
	n.before = append(n.before, len(n.taken))
}

// Totals travel with their own tick, however long that waits, and a span of
// lost ticks is told before the tick that follows it.
func TestTotalsAndLossesStandBesideTheirTick(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n, q, g := &noting{memory: memory{hang: make(chan struct{})}}, NewQueue(8), newRig(t)
		end := run(t, q, func() (Log, error) { return n, nil })
		put := func() {
			k := g.next()
			totals := engine.Totals{Frames: uint64(g.n)}
			q.NoteTotals(&totals)
			k.put(q)
		}
		put()
		time.Sleep(1500 * time.Millisecond) // hangs in Sync
		for range 9 {
			put() // 2 to 8 find places, the last is kept for an alarm: 10
		}
		put()
		put() // 11 and 12 are lost
		close(n.hang)
		time.Sleep(time.Second)
		put()
		require.NoError(t, end())
		require.Equal(t, []uint64{1, 2, 3, 4, 5, 6, 7, 8, 10, 13}, n.totals)
		require.Equal(t, []Loss{{1, 0, 9e8, 9e8}, {2, 1, 11e8, 12e8}}, n.losses)
		require.Equal(t, []int{8, 9}, n.before)
	})
}
