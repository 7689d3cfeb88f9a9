package remote

import (
	"context"
	"iter"
	"time"

	"headroom/daemon/store"
	"headroom/rules/frame"
)

// Record is what is sent from; *store.Store is the one in use.
type Record interface {
	// Boot is the number of the boot that is being recorded.
	Boot() uint64
	RecordName(ctx context.Context) (string, error)
	Boots(ctx context.Context) ([]store.Info, error)
	Run(ctx context.Context, id store.RunID) (store.Run, error)
	Frames(ctx context.Context, id store.RunID, from, to time.Duration) iter.Seq2[store.Tick, error]
	Buckets(ctx context.Context, id store.RunID, ch frame.Channel, from, to time.Duration, n int) ([]store.Bucket, error)
	Acts(ctx context.Context, id store.RunID) ([]store.Act, error)
	Events(ctx context.Context, id store.RunID) ([]store.Event, error)
	Observations(ctx context.Context, boot uint64) ([]store.Observation, error)
	Config(ctx context.Context, hash string) (text []byte, ok bool, err error)
	WallAt(ctx context.Context, boot uint64, t time.Duration) (wall time.Time, ok bool, err error)
	Life(ctx context.Context) (store.Sums, error)
}

var _ Record = (*store.Store)(nil)
