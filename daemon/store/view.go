package store

import (
	"database/sql"
	"slices"
	"sync"
	"time"

	"headroom/daemon/store/codec"
	"headroom/rules/frame"
)

// Health is what a store has to say of its work.
type Health struct {
	// Boot is this boot's number.
	Boot uint64
	// Run is the number of the run that goes on and RunBegan when it did; Run is
	// 0 between runs.
	Run      int
	RunBegan time.Duration
	// TakenOver are the records of the tail that Open took over, Torn those
	// that were not whole: after a power cut in the middle of a write there is
	// one, and older ones that were partly written over count too.
	TakenOver, Torn int
	// TailError and SealError are the last error of the tail and of the
	// database in words, empty again once that works.
	TailError, SealError string
	// TailReopened counts how often the tail was opened anew, Direct how often
	// the database had to stand in for it.
	TailReopened, Direct uint64
	// Seals counts how often the database was written.
	Seals uint64
	// PendingFrames are in the tail only.
	PendingFrames int
	// Problems are what was found damaged, in words; no more than 20 are kept.
	Problems []string
}

const maxProblems = 20

// pending is a record that is safe in the tail and not yet in the database.
type pending struct {
	seq     uint64
	payload []byte
	frames  int
}

// view is what readers need: the database, and what isn't in it yet. Its lock
// is never held while a disk is waited for.
type view struct {
	db   *sql.DB
	boot uint64

	vmu       sync.RWMutex
	pending   []pending
	since     time.Duration // time of the first pending frame
	sealedSeq uint64
	health    Health
}

// Health returns how it goes.
func (v *view) Health() Health {
	v.vmu.RLock()
	defer v.vmu.RUnlock()
	h := v.health
	h.Problems = slices.Clone(h.Problems)
	for i := range v.pending {
		h.PendingFrames += v.pending[i].frames
	}
	return h
}

func (v *view) note(do func(*Health)) {
	v.vmu.Lock()
	defer v.vmu.Unlock()
	do(&v.health)
}

func (v *view) problem(words string) {
	v.note(func(h *Health) {
		if len(h.Problems) < maxProblems {
			h.Problems = append(h.Problems, words)
		}
	})
}

func (v *view) noteTail(err error) {
	v.note(func(h *Health) { h.TailError = inWords(err) })
}

func (v *view) noteSeal(err error) {
	v.note(func(h *Health) {
		h.SealError = inWords(err)
		if err == nil {
			h.Seals++
		}
	})
}

func inWords(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

func (v *view) sealed() uint64 {
	v.vmu.RLock()
	defer v.vmu.RUnlock()
	return v.sealedSeq
}

func (v *view) setSealed(seq uint64) {
	v.vmu.Lock()
	defer v.vmu.Unlock()
	v.sealedSeq = max(v.sealedSeq, seq)
}

func (v *view) addPending(p pending, at time.Duration) {
	if len(p.payload) == 0 {
		return
	}
	v.vmu.Lock()
	defer v.vmu.Unlock()
	if len(v.pending) == 0 {
		v.since = at
	}
	v.pending = append(v.pending, p)
}

// pendingList is a copy; the payloads never change.
func (v *view) pendingList() []pending {
	v.vmu.RLock()
	defer v.vmu.RUnlock()
	return slices.Clone(v.pending)
}

func (v *view) setPending(list []pending) {
	v.vmu.Lock()
	defer v.vmu.Unlock()
	v.pending = list
}

// dropPending forgets what is in the database now.
func (v *view) dropPending(seq uint64) {
	v.vmu.Lock()
	defer v.vmu.Unlock()
	v.sealedSeq = max(v.sealedSeq, seq)
	v.pending = slices.DeleteFunc(slices.Clone(v.pending), func(p pending) bool { return p.seq <= seq })
}

// pendingSince tells how many frames are pending and since when.
func (v *view) pendingSince() (frames int, since time.Duration) {
	v.vmu.RLock()
	defer v.vmu.RUnlock()
	for i := range v.pending {
		frames += v.pending[i].frames
	}
	return frames, v.since
}

// newest is the highest number; after the tail was opened anew they need not
// ascend.
func newest(list []pending) (seq uint64) {
	for i := range list {
		seq = max(seq, list[i].seq)
	}
	return seq
}

// unsealed is the part of the list that the database, as seen through a
// snapshot with that number, doesn't hold, as a batch.
func unsealed(list []pending, boot, sealed uint64) *batch {
	b := &batch{boot: boot}
	for i := range list {
		if list[i].seq > sealed {
			_ = b.add(list[i].payload) // what can't be read is told when it is sealed
		}
	}
	return b
}

// columns joins the batch's frames.
func (b *batch) columns(after int64) *codec.Columns {
	all := &codec.Columns{}
	s := sealer{}
	var small codec.Columns
	var f frame.Frame
	for _, k := range s.inOrder(b) {
		if k.Columns(&small) != nil {
			continue
		}
		for i, t := range small.T {
			if t > after {
				small.Frame(i, &f)
				all.Append(t, small.Wall[i], &f)
				after = t
			}
		}
	}
	return all
}
