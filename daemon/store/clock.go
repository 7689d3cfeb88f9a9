package store

import (
	"context"
	"fmt"
	"time"
)

// calendar tells the wall times of one boot by the best observations of its
// clock: the most trusted ones, and of those the nearest. Observations that
// came later than a frame serve it just as well, so a clock that was wrong in
// the morning is put right in the afternoon.
type calendar []Observation

// wall is the best known wall time; ok is false where nothing is known.
func (c calendar) wall(t time.Duration) (wall time.Time, ok bool) {
	best := -1
	for i := range c {
		if best < 0 || c[i].Trust > c[best].Trust ||
			c[i].Trust == c[best].Trust && c.better(i, best, t) {
			best = i
		}
	}
	if best < 0 {
		return time.Time{}, false
	}
	return c[best].Wall.Add(t - c[best].T), true
}

// better compares observations of the same trust. What the clock only said
// holds from then on until it said something else; better knowledge holds both
// ways. Of two that are as good the later one counts.
func (c calendar) better(i, best int, t time.Duration) bool {
	if c[i].Trust == Seen {
		return c[i].T <= t && (c[best].T > t || c[i].T >= c[best].T)
	}
	return (c[i].T - t).Abs() <= (c[best].T - t).Abs()
}

// calendar reads the observations of a boot.
func (s *snapshot) calendar(ctx context.Context, boot uint64) (c calendar, err error) {
	rows, err := s.QueryContext(ctx, "SELECT t, trust, wall FROM clock WHERE boot = ? ORDER BY t, link", int64(boot))
	if err != nil {
		return nil, fmt.Errorf("cannot read the clock of boot %d: %w", boot, err)
	}
	defer rows.Close() // its error is that of rows.Err
	for rows.Next() {
		o := Observation{Boot: boot}
		var wall int64
		if err := rows.Scan((*int64)(&o.T), &o.Trust, &wall); err != nil {
			return nil, fmt.Errorf("cannot read the clock of boot %d: %w", boot, err)
		}
		o.Wall = time.Unix(0, wall).UTC()
		c = append(c, o)
	}
	if boot == s.live.boot {
		c = append(c, s.live.clock...)
	}
	return c, rows.Err()
}

// Observations returns what is known of a boot's clock, in the order of time.
func (v *view) Observations(ctx context.Context, boot uint64) ([]Observation, error) {
	s, err := v.snapshot(ctx)
	if err != nil {
		return nil, err
	}
	defer s.end()
	return s.calendar(ctx, boot)
}

// WallAt returns the best known wall time of a monotonic time; ok is false
// where nothing is known of that boot's clock.
func (v *view) WallAt(ctx context.Context, boot uint64, t time.Duration) (wall time.Time, ok bool, err error) {
	c, err := v.Observations(ctx, boot)
	if err != nil {
		return time.Time{}, false, err
	}
	wall, ok = calendar(c).wall(t)
	return wall, ok, nil
}
