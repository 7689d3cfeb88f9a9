package journal_test

import (
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/journal"
)

func TestNotesAreKeptInOrder(t *testing.T) {
	dir := t.TempDir()
	j := journal.New(dir, slog.New(slog.DiscardHandler))
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { j.Run(ctx); close(done) }()
	for _, what := range []string{"acknowledge", "shelve", "override"} {
		j.Add(journal.Entry{Wall: time.Unix(1, 0).UTC(), Who: "Ada", What: what})
	}
	cancel()
	<-done
	got, damaged, err := journal.Read(dir)
	require.NoError(t, err)
	require.Zero(t, damaged)
	require.Len(t, got, 3)
	require.Equal(t, "override", got[2].What)
	require.Equal(t, "Ada", got[2].Who)
}

func TestTornLineCostsItselfAlone(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, journal.FileName), []byte("{\"who\":\"Ada\",\"what\":\"reset\"}\n{\"who\":\"A"), 0o644))
	j := journal.New(dir, slog.New(slog.DiscardHandler))
	j.Add(journal.Entry{Who: "Ben", What: "acknowledge"})
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	j.Run(ctx)
	got, damaged, err := journal.Read(dir)
	require.NoError(t, err)
	require.Equal(t, 1, damaged)
	require.Len(t, got, 2)
	require.Equal(t, "Ben", got[1].Who)
}

func TestNeverBlocksAndCountsWhatIsLost(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		j := journal.New(dir, slog.New(slog.DiscardHandler))
		for range 300 { // nobody writes yet
			j.Add(journal.Entry{What: "acknowledge"})
		}
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		j.Run(ctx)
		got, _, err := journal.Read(dir)
		require.NoError(t, err)
		require.Len(t, got, 256)
		require.EqualValues(t, 44, got[0].Lost)
	})
}
