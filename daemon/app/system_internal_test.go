package app

import (
	"errors"
	"fmt"
	"io/fs"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/medium"
	"headroom/daemon/record"
	"headroom/daemon/snapshot"
	"headroom/daemon/store"
)

func failingWith(err error) record.Health {
	return record.Health{Failures: 1, LastError: err.Error(), Cause: err}
}

var goodDisk = medium.Medium{Type: "ext4", FreeBytes: 5e9, TotalBytes: 8e9, FreeFiles: -1, Keeps: medium.KeepsIt}

// Each trouble raises its own alarm and no other, in words that name it.
func TestTroublesOfTheRecordAreAlarms(t *testing.T) {
	full := fmt.Errorf("cannot move the last minutes: %w", syscall.ENOSPC)
	on := func(change func(m *medium.Medium)) medium.Medium {
		m := goodDisk
		change(&m)
		return m
	}
	for _, c := range []struct {
		name   string
		l      looked
		want   snapshot.SystemID
		status string
	}{
		{"can't be opened", looked{queue: failingWith(fs.ErrPermission)}, snapshot.RecordFailing, "nothing can be written: permission denied"},
		{"no right", looked{queue: failingWith(syscall.EACCES)}, snapshot.RecordFailing, "the program may not write there: permission denied"},
		{"full", looked{queue: failingWith(full), open: true, store: store.Health{SealError: "full"}}, snapshot.RecordFailing, "disk full: cannot move"},
		{"read only", looked{queue: failingWith(syscall.EROFS)}, snapshot.RecordFailing, "the medium is read-only: "},
		{"broken", looked{queue: failingWith(syscall.EIO)}, snapshot.RecordFailing, "the medium fails: "},
		{"full, as the database says", looked{queue: failingWith(errors.New("database or disk is full (13)"))}, snapshot.RecordFailing, "disk full: "},
		{"tail fails, database not yet asked", looked{queue: failingWith(syscall.EIO), open: true}, snapshot.RecordHalf, "input/output error"},
		{"tail fails, database stands in", looked{open: true, store: store.Health{TailError: "no tail"}}, snapshot.RecordHalf, "no tail"},
		{"database fails, tail holds", looked{open: true, store: store.Health{SealError: "no database"}}, snapshot.RecordHalf, "no database"},
		{"hangs", looked{queue: record.Health{Hanging: 7 * time.Second, Waiting: 70}, open: true}, snapshot.RecordLosing, "has not answered for 7s; 70 frames wait"},
		{"lost some", looked{queue: record.Health{Dropped: 12}, open: true}, snapshot.RecordLosing, "12 frames could not be recorded"},
		{"lost alarms", looked{queue: record.Health{Dropped: 12, DroppedChanges: 3}, open: true}, snapshot.RecordLosing, "nor alarms that came or went in them, 3 times"},
		{"damaged", looked{open: true, store: store.Health{Problems: []string{"boot 3: a second is lost"}}}, snapshot.RecordDamaged, "boot 3: a second is lost"},
		{"nearly full", looked{open: true, medium: on(func(m *medium.Medium) { m.FreeBytes = 199e6 })}, snapshot.RecordSpace, "199 MB of 8000 MB are free"},
		{"small and nearly full", looked{open: true, medium: on(func(m *medium.Medium) { m.TotalBytes, m.FreeBytes = 500e6, 49e6 })}, snapshot.RecordSpace, "49 MB of 500 MB"},
		{"no more files", looked{open: true, medium: on(func(m *medium.Medium) { m.FreeFiles = 3 })}, snapshot.RecordSpace, "no more than 3 files"},
		{"in memory", looked{open: true, medium: on(func(m *medium.Medium) { m.Type, m.Keeps = "tmpfs", medium.LosesIt })}, snapshot.RecordVolatile, "lies in memory (tmpfs)"},
		{"in a layer", looked{open: true, medium: on(func(m *medium.Medium) { m.Type, m.Keeps = "overlay", medium.MayLoseIt })}, snapshot.RecordVolatile, "may be thrown away"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.l.medium == (medium.Medium{}) {
				c.l.medium = goodDisk
			}
			c.l.at, c.l.now, c.l.warnFree = time.Unix(1000, 0), 5*time.Minute, 200e6
			var w systemWatch
			require.Equal(t, []snapshot.SystemID{c.want}, w.look(&c.l))
			s := w.state()
			require.Len(t, s.alarms, 1)
			a := s.alarms[0]
			require.Equal(t, c.want, a.ID)
			require.Contains(t, a.Status, c.status)
			require.Equal(t, 5*time.Minute, a.Since)
			require.NotZero(t, a.Level)
			require.Equal(t, c.want == snapshot.RecordFailing, s.recordError != "")
			require.Empty(t, w.look(&c.l), "told once")

			well := looked{at: c.l.at.Add(lossStands), now: 20 * time.Minute, open: true, medium: goodDisk, warnFree: 200e6}
			well.queue.Dropped = c.l.queue.Dropped
			require.Equal(t, []snapshot.SystemID{c.want}, w.look(&well), "and gone when it is mended")
			require.Empty(t, w.state().alarms)
			require.Empty(t, w.state().recordError)
		})
	}
}

// A tail that fails for longer than the database takes to stand in means that
// nothing is recorded, whatever the database has said.
func TestATailThatKeepsFailingIsNoHalf(t *testing.T) {
	var w systemWatch
	l := looked{at: time.Unix(1000, 0), open: true, medium: goodDisk, queue: failingWith(syscall.EIO)}
	require.Equal(t, []snapshot.SystemID{snapshot.RecordHalf}, w.look(&l))
	l.at = l.at.Add(halfFor)
	require.ElementsMatch(t, []snapshot.SystemID{snapshot.RecordHalf, snapshot.RecordFailing}, w.look(&l))
	require.Contains(t, w.state().recordError, "the medium fails")
}

// At the limit the alarm doesn't come and go, and without a word of the kernel
// nothing is claimed.
func TestSpaceNeedsRoomToClear(t *testing.T) {
	var w systemWatch
	l := looked{open: true, medium: goodDisk, warnFree: 200e6}
	for _, c := range []struct {
		free int64
		on   bool
	}{{201e6, false}, {199e6, true}, {201e6, true}, {239e6, true}, {241e6, false}, {201e6, false}} {
		l.medium.FreeBytes = c.free
		w.look(&l)
		require.Equal(t, c.on, w.on[snapshot.RecordSpace], c.free)
	}
	l.medium.FreeBytes, l.mediumErr = 1, errNotLooked
	w.look(&l)
	require.False(t, w.on[snapshot.RecordSpace])
}

func TestEverySystemAlarmHasWords(t *testing.T) {
	for id := range snapshot.NumSystemIDs {
		text := id.Text()
		for _, s := range []string{id.String(), text.Title, text.Consequence, text.Action} {
			require.NotEmpty(t, s, id)
		}
		require.NotZero(t, systemLevel(id))
	}
}

func TestClockIsNotedWhenItMatters(t *testing.T) {
	var c clockWatch
	for _, k := range []struct {
		name   string
		t      time.Duration
		offset time.Duration
		synced bool
		trust  store.Trust
		note   bool
	}{
		{"at the start, in 1970", 1 * time.Second, 0, false, store.Seen, true},
		{"nothing new", 2 * time.Second, 0, false, 0, false},
		{"pulled slowly", 3 * time.Second, 500 * time.Millisecond, false, 0, false},
		{"pulled on, and that adds up", 4 * time.Second, 1100 * time.Millisecond, false, store.Seen, true},
		{"set by the net, not yet trusted", 5 * time.Second, 50 * 365 * 24 * time.Hour, false, store.Seen, true},
		{"trusted", 6 * time.Second, 50 * 365 * 24 * time.Hour, true, store.Synced, true},
		{"nothing new", 7 * time.Second, 50 * 365 * 24 * time.Hour, true, 0, false},
		{"set back", 8 * time.Second, 49 * 365 * 24 * time.Hour, true, store.Synced, true},
		{"an hour later", 8*time.Second + clockAgain, 49 * 365 * 24 * time.Hour, true, store.Synced, true},
		{"the net is gone", 8*time.Second + 2*clockAgain, 49 * 365 * 24 * time.Hour, false, 0, false},
		{"and back", 9*time.Second + 2*clockAgain, 49 * 365 * 24 * time.Hour, true, store.Synced, true},
	} {
		trust, note := c.look(k.t, k.offset, k.synced)
		require.Equal(t, k.note, note, k.name)
		require.Equal(t, k.trust, trust, k.name)
	}
}
