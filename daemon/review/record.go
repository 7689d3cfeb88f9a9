package review

import (
	"context"
	"iter"
	"time"

	"headroom/daemon/store"
	"headroom/rules/frame"
)

// Record is what an account is made from; *store.Store and *store.Reader are
// the ones there are.
type Record interface {
	Boots(ctx context.Context) ([]store.Info, error)
	ListRuns(ctx context.Context, limit int) ([]store.Run, error)
	Run(ctx context.Context, id store.RunID) (store.Run, error)
	Frames(ctx context.Context, id store.RunID, from, to time.Duration) iter.Seq2[store.Tick, error]
	Buckets(ctx context.Context, id store.RunID, ch frame.Channel, from, to time.Duration, n int) ([]store.Bucket, error)
	Events(ctx context.Context, id store.RunID) ([]store.Event, error)
	Acts(ctx context.Context, id store.RunID) ([]store.Act, error)
	Config(ctx context.Context, hash string) (text []byte, ok bool, err error)
	Observations(ctx context.Context, boot uint64) ([]store.Observation, error)
	WallAt(ctx context.Context, boot uint64, t time.Duration) (wall time.Time, ok bool, err error)
	Deletions(ctx context.Context) ([]store.Deletion, error)
}

var (
	_ Record = (*store.Store)(nil)
	_ Record = (*store.Reader)(nil)
)

// RunID names a run, as the record does.
type RunID = store.RunID
