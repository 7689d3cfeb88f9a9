package dashboard

import (
	"context"
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/store"
	"headroom/rules/engine"
)

// seasonRecord is a record of many boots with runs in each, and of one note.
type seasonRecord struct {
	Recorded
	runs         []store.Run
	notes        []store.Act
	acts, events int
	slow         time.Duration
}

func newSeason(boots uint64, each int) *seasonRecord {
	s := &seasonRecord{}
	for boot := boots; boot > 0; boot-- {
		for n := each; n > 0; n-- {
			at := time.Duration(n) * time.Hour
			s.runs = append(s.runs, store.Run{ID: store.RunID{Boot: boot, N: n}, Start: at, End: at + time.Minute, From: at - store.LeadIn, To: at + 3*time.Minute, Raised: 1})
		}
	}
	s.notes = []store.Act{{Boot: boots, What: noteAbout, Text: aboutRun(store.RunID{Boot: 1, N: 1}) + "the roots were thick", Who: "Ada"}}
	return s
}

func (s *seasonRecord) Events(ctx context.Context, id store.RunID) ([]store.Event, error) {
	s.events++
	select {
	case <-time.After(s.slow):
	case <-ctx.Done():
	}
	return []store.Event{{Boot: id.Boot, T: 2*time.Hour - time.Minute, Alarm: "inlet_low.act", Raised: true, LevelN: uint8(engine.Act)}}, ctx.Err()
}

func (s *seasonRecord) ActsSince(ctx context.Context, boot uint64) ([]store.Act, error) {
	s.acts++
	return append([]store.Act(nil), s.notes...), ctx.Err()
}

// TestASearchReadsEverythingOnce: over a season it reads the acts once and the
// events once for each boot, not once for each run.
func TestASearchReadsEverythingOnce(t *testing.T) {
	const boots, each = 40, 5
	for text, want := range map[string][]string{"roots": {"1.1"}, "ADA": {"1.1"}, "nowhere": nil, "1: the": nil} {
		rec := newSeason(boots, each)
		found, err := (&runsFilter{Text: text}).choose(t.Context(), rec, rec.runs)
		require.NoError(t, err)
		var ids []string
		for i := range found {
			ids = append(ids, found[i].ID.String())
		}
		require.Equal(t, want, ids, text)
		require.Equal(t, 1, rec.acts)
		require.Equal(t, boots, rec.events)
	}
	rec := newSeason(boots, each)
	found, err := (&runsFilter{Text: "inlet_low"}).choose(t.Context(), rec, rec.runs)
	require.NoError(t, err)
	require.Len(t, found, boots, "the run that the alarm belongs to, in each boot")
	require.Equal(t, fmt.Sprintf("%d.2", boots), found[0].ID.String())
}

// TestALongSearchIsBrokenOff, says so, and shows what it had found.
func TestALongSearchIsBrokenOff(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		rec := newSeason(1000, 2)
		rec.slow = 700 * time.Millisecond
		begun := time.Now()
		found, err := (&runsFilter{Text: "inlet_low"}).choose(t.Context(), rec, rec.runs)
		require.ErrorIs(t, err, errLongSearch)
		require.NotEmpty(t, found)
		require.Equal(t, findWithin, time.Since(begun))
		ctx, cancel := context.WithTimeout(t.Context(), 3*time.Second)
		defer cancel()
		_, err = (&runsFilter{Text: "inlet_low"}).choose(ctx, rec, rec.runs)
		require.ErrorIs(t, err, context.DeadlineExceeded)
		require.NotErrorIs(t, err, errLongSearch, "the reader left")
	})
}

// A round between two runs was for the second.
func TestWhatIsDoneBetweenTwoRunsIsForTheNext(t *testing.T) {
	rec := newSeason(1, 2) // runs from 1 h and 2 h on
	x := &finder{all: map[uint64][]store.Run{1: rec.runs}}
	second, first := &rec.runs[0], &rec.runs[1]
	between := first.To + 10*time.Minute
	require.True(t, x.wasFor(second, between))
	require.False(t, x.wasFor(first, between))
	require.True(t, x.wasFor(first, first.From-time.Minute))
	require.False(t, x.wasFor(second, first.From-time.Minute), "that was for the first")
}
