package store

import (
	"context"
	"fmt"
	"math"
	"time"
)

// ActsSince returns what was done in a boot and all later ones, in their order.
// It is for what people write about a run after it: that stands in the boot in
// which they wrote.
func (v *view) ActsSince(ctx context.Context, boot uint64) ([]Act, error) {
	s, err := v.snapshot(ctx)
	if err != nil {
		return nil, err
	}
	defer s.end()
	w := window{boot: boot, from: math.MinInt64, to: time.Duration(math.MaxInt64)}
	out, err := jsonRows[Act](ctx, s, "SELECT data, sum FROM act WHERE boot >= ? AND t BETWEEN ? AND ? ORDER BY boot, n", w)
	if err != nil {
		return nil, fmt.Errorf("cannot read the acts since boot %d: %w", boot, err)
	}
	if s.live.boot >= boot {
		out = append(out, s.live.acts...)
	}
	return out, nil
}
