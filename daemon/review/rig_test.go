package review

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/review/recordtest"
	"headroom/daemon/store"
)

type (
	script = recordtest.Script
	deed   = recordtest.Deed
)

const tick = recordtest.Tick

var (
	ctx       = context.Background()
	startWall = recordtest.StartWall
)

func play(t testing.TB, sc script) string { return recordtest.Play(t, sc) }

// read opens a record for reading.
func read(t testing.TB, dir string) *store.Reader {
	r, err := store.OpenReader(dir)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, r.Close()) })
	return r
}

// latest is the newest run's account.
func latest(t testing.TB, r Record) *Account {
	runs, err := r.ListRuns(ctx, 1)
	require.NoError(t, err)
	require.NotEmpty(t, runs)
	a, err := Tell(ctx, r, runs[0].ID, Options{})
	require.NoError(t, err)
	return a
}
