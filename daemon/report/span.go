package report

import (
	"context"
	"time"

	"headroom/daemon/config"
	"headroom/daemon/review"
	"headroom/dashboard/chart"
	"headroom/rules/units"
)

// Look is a run that somebody looks at more closely: the same charts and words
// as in its report, over any part of it.
type Look struct {
	// Account is the run in words, Config the configuration in force, nil where
	// the record doesn't hold it.
	Account *review.Account
	Config  *config.Config
}

// NewLook tells a run, or with number 0 a whole boot.
func NewLook(ctx context.Context, r Record, id review.RunID) (*Look, error) {
	a, err := review.Tell(ctx, r, id, review.Options{})
	if err != nil {
		return nil, err
	}
	cfg, _, err := review.ConfigOf(ctx, r, a.Head.Config)
	if err != nil {
		return nil, err
	}
	return &Look{a, cfg}, nil
}

// Sheet draws all readings from one moment to another, in monotonic time of the
// boot. A sheet without panels means that there is nothing to draw.
func (l *Look) Sheet(ctx context.Context, r Record, sys units.System, from, to time.Duration) (chart.Sheet, error) {
	d := drafter{ctx: ctx, r: r, Report: l.report(sys)}
	s := d.sheet("run", "All readings", from, to)
	var err error
	s.Panels, err = d.panels(from, to)
	return s, err
}

// Rests says in short what a sentence of the account rests on.
func (l *Look) Rests(s *review.Sentence, sys units.System) string { return l.report(sys).rests(s) }

func (l *Look) report(sys units.System) *Report {
	return &Report{Account: l.Account, Config: l.Config, Options: Options{Units: sys}}
}
