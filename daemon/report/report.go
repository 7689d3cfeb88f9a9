package report

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"headroom/daemon/config"
	"headroom/daemon/review"
	"headroom/daemon/store"
	"headroom/dashboard/chart"
	"headroom/rules/units"
)

// Options of a report.
type Options struct {
	// Units that it is written in.
	Units units.System
	// Zone of its clock times; nil for UTC.
	Zone *time.Location
	// Paper is A4 or Letter; empty for what is usual with the units.
	Paper Paper
	// Software is the version that makes the report.
	Software string
	// From and To bound a part of a whole boot, as in review.Options.
	From, To time.Duration
}

// Paper is a size of paper.
type Paper string

// The papers.
const (
	A4     Paper = "A4"
	Letter Paper = "letter"
)

// paper is the one that was asked for, or what is usual.
func (o *Options) paper() Paper {
	switch {
	case o.Paper != "":
		return o.Paper
	case o.Units == units.US:
		return Letter
	}
	return A4
}

// Record is what a report is made from.
type Record interface {
	review.Record
	Chain(ctx context.Context, id store.RunID) (store.Chain, error)
}

// Proof matches a report to the record that it was made from.
type Proof struct {
	// Record names the record, Head is the chain's head there and Position its
	// number; empty where there is none.
	Record, Head string
	Position     int64
	// Text says in plain words what it proves and what it doesn't.
	Text string
}

// Report is everything that is printed.
type Report struct {
	Account *review.Account
	// Config in force; nil where the record doesn't hold it.
	Config *config.Config
	Proof  Proof
	// Calibration is the hash of the calibrations in force, empty where the
	// record holds none.
	Calibration string
	// Charts are the whole span, CloseUps the minutes around the first alarms.
	Charts, CloseUps []chart.Sheet
	Options          Options
}

// Make makes the report of a run, or with number 0 of a boot or a part of it.
// The error says what could not be read.
func Make(ctx context.Context, r Record, id store.RunID, o Options) (*Report, error) {
	a, err := review.Tell(ctx, r, id, review.Options{From: o.From, To: o.To})
	if err != nil {
		return nil, err
	}
	p := &Report{Account: a, Options: o}
	if p.Config, _, err = review.ConfigOf(ctx, r, a.Head.Config); err != nil {
		return nil, err
	}
	if p.Proof, err = proofOf(ctx, r, id); err != nil {
		return nil, err
	}
	if p.Calibration, err = calibrationOf(ctx, r, &a.Head); err != nil {
		return nil, err
	}
	d := drafter{ctx: ctx, r: r, Report: p}
	if p.Charts, err = d.whole(); err != nil {
		return nil, err
	}
	p.CloseUps, err = d.closeUps()
	return p, err
}

// proves is what the chain is good for, in plain words.
const proves = "Everything that is sealed into the record adds a link to a chain of SHA-256 hashes. Who kept this head elsewhere, for " +
	"example in this report in somebody else's hands, can check with the record that up to there nothing was changed, taken out or " +
	"put in since the head was noted. It does not prove that the clock was right, that the sensors told the truth, who made the record, or " +
	"that the whole chain was not written anew before the head was noted."

// proofOf asks the record for its chain.
func proofOf(ctx context.Context, r Record, id store.RunID) (Proof, error) {
	c, err := r.Chain(ctx, id)
	if errors.Is(err, store.ErrNoChain) {
		return Proof{Text: "Nothing of this is sealed into the record's chain of hashes yet, so this report can't be matched to the record by it."}, nil
	}
	if err != nil {
		return Proof{}, fmt.Errorf("cannot read the record's chain: %w", err)
	}
	p := Proof{Record: c.Record, Head: c.Head.String(), Position: c.Head.Pos, Text: proves}
	if !c.Whole {
		p.Text += " Part of what is told here was not sealed yet, or was recorded before the chain began: the head does not vouch for that part."
	}
	return p, nil
}

// calibrationOf returns the hash of the calibrations that were in force last.
func calibrationOf(ctx context.Context, r Record, h *review.Head) (hash string, err error) {
	acts, err := r.Acts(ctx, store.RunID{Boot: h.ID.Boot})
	if err != nil {
		return "", err
	}
	for i := range acts {
		if words := strings.Fields(acts[i].Text); acts[i].What == store.CalibrationsInForce && acts[i].T <= h.To && len(words) > 1 {
			hash = words[1]
		}
	}
	return hash, nil
}
