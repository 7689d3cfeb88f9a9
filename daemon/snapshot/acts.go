package snapshot

import (
	"time"

	"headroom/rules/alarm"
	"headroom/rules/engine"
)

// ActEvent is what a person did to an alarm.
type ActEvent struct {
	// ID counts acts from 1, apart from the alarms' events.
	ID   uint64
	Wall time.Time
	// Who is the name that the person gave; it is no proof of who it was.
	Who string
	Did engine.Did
}

// NoteAct adds an act that the engine took; the store gives it its ID. Whoever
// applies acts to the engine calls it, so that one list holds them all.
func (st *Store) NoteAct(e ActEvent) {
	st.mu.Lock()
	defer st.mu.Unlock()
	st.lastAct++
	e.ID = st.lastAct
	st.acts = append(st.acts, e)
	if over := len(st.acts) - keepEvents; over > 0 {
		st.acts = append(st.acts[:0:0], st.acts[over:]...)
	}
	if e.Did.Act < alarm.NumActs {
		st.actTotals[e.Did.Act]++
	}
}

// Acts returns a copy of the acts with an ID above after, oldest first.
func (st *Store) Acts(after uint64) []ActEvent {
	st.mu.Lock()
	defer st.mu.Unlock()
	for i := range st.acts {
		if st.acts[i].ID > after {
			return append([]ActEvent(nil), st.acts[i:]...)
		}
	}
	return nil
}

// ActTotals counts the acts of each kind, those that were forgotten since too.
func (st *Store) ActTotals() [alarm.NumActs]uint64 {
	st.mu.Lock()
	defer st.mu.Unlock()
	return st.actTotals
}
