package notify

import (
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"regexp"
	"time"

	"headroom/rules/engine"
	"headroom/rules/units"
)

// Options of a Notifier. Machine and at least one target are required.
type Options struct {
	// Machine is its name, as people know it. Each machine needs its own.
	Machine string
	// Boot is the number of the run, as the record counts it; 0 when none does.
	Boot uint64
	// Units of the texts.
	Units units.System
	// Dashboard is the http or https address of the machine's pages as the
	// reader of a message can reach it; empty leaves it out.
	Dashboard string
	// Clock tells how far to trust the wall clock at this moment; nil is
	// ClockUnknown. It is called when an alarm changes and must not block.
	Clock func() Clock
	// Drain is how long Run goes on sending what waits after its context has
	// ended; 0 is DefaultDrain.
	Drain time.Duration
	// Log takes one line for each change of a target's state; nil is
	// slog.Default. No secret and no path of an address is ever logged.
	Log *slog.Logger
	// Targets take the notifications.
	Targets []Target
}

// Target is one receiver and how it is to be treated.
type Target struct {
	// Name of the target in logs and metrics: lower-case letters, digits and
	// "_", at most 32. Each needs its own.
	Name string
	// MinLevel is the lowest level that is sent; 0 is engine.Warning.
	MinLevel engine.Level
	// Timeout of one attempt, from 100 ms to 2 min; 0 is DefaultTimeout.
	Timeout time.Duration
	// RetryMin and RetryMax are the shortest and the longest pause after a
	// failed attempt, from 100 ms to 1 h; 0 are DefaultRetryMin and
	// DefaultRetryMax. The pause doubles with each failure, and a random part
	// of up to half is taken off so that many machines don't come at once.
	RetryMin, RetryMax time.Duration
	// Sink is what NewAlertmanager, NewWebhook or NewMQTT made. It belongs to
	// this target alone.
	Sink Sink
}

// Defaults. Common practice, no source.
const (
	DefaultDrain    = 3 * time.Second
	DefaultTimeout  = 10 * time.Second
	DefaultRetryMin = time.Second
	DefaultRetryMax = 5 * time.Minute

	shortest   = 100 * time.Millisecond
	maxTimeout = 2 * time.Minute
	maxRetry   = time.Hour
	maxDrain   = time.Minute
)

var targetName = regexp.MustCompile(`^[a-z0-9_]{1,32}$`)

// check fills in the defaults and returns all that is wrong, each with its
// mend.
func (o *Options) check() error {
	var errs []error
	if o.Machine == "" {
		errs = append(errs, errors.New("cannot notify without the machine's name: give it one, so that a message says which machine it is about"))
	}
	if err := checkDashboard(o.Dashboard); err != nil {
		errs = append(errs, err)
	}
	fill(&o.Drain, DefaultDrain)
	errs = append(errs, within("notify", "drain", o.Drain, 0, maxDrain))
	if o.Log == nil {
		o.Log = slog.Default()
	}
	if len(o.Targets) == 0 {
		errs = append(errs, errors.New("cannot notify without a target: add one or leave notifications out"))
	}
	o.Targets = append([]Target(nil), o.Targets...)
	seen := map[string]bool{}
	for i := range o.Targets {
		t := &o.Targets[i]
		errs = append(errs, t.check())
		if seen[t.Name] {
			errs = append(errs, fmt.Errorf("two targets have the name %q: give each its own", t.Name))
		}
		seen[t.Name] = true
	}
	return errors.Join(errs...)
}

func checkDashboard(addr string) error {
	if addr == "" {
		return nil
	}
	u, err := url.Parse(addr)
	if err != nil || u.Host == "" || (u.Scheme != "http" && u.Scheme != "https") || u.User != nil {
		return errors.New("cannot use the dashboard's address: write it like http://jetter.local:8080/, without user and password")
	}
	return nil
}

func (t *Target) check() error {
	var errs []error
	if !targetName.MatchString(t.Name) {
		errs = append(errs, fmt.Errorf("cannot use %q as the name of a target: take 1 to 32 of a-z, 0-9 and _", t.Name))
	}
	if t.Sink == nil {
		errs = append(errs, fmt.Errorf("target %q has no sink: make one with NewAlertmanager, NewWebhook or NewMQTT", t.Name))
	}
	if t.MinLevel == engine.Normal {
		t.MinLevel = engine.Warning
	}
	if t.MinLevel > engine.Act {
		errs = append(errs, fmt.Errorf("target %q has an unknown lowest level: use advice, warning or act", t.Name))
	}
	fill(&t.Timeout, DefaultTimeout)
	fill(&t.RetryMin, DefaultRetryMin)
	if t.RetryMax == 0 {
		t.RetryMax = max(DefaultRetryMax, t.RetryMin)
	}
	what := fmt.Sprintf("target %q", t.Name)
	errs = append(errs,
		within(what, "timeout", t.Timeout, shortest, maxTimeout),
		within(what, "retry_min", t.RetryMin, shortest, maxRetry),
		within(what, "retry_max", t.RetryMax, shortest, maxRetry))
	if t.RetryMax < t.RetryMin {
		errs = append(errs, fmt.Errorf("%s: retry_max %v is shorter than retry_min %v: swap them", what, t.RetryMax, t.RetryMin))
	}
	return errors.Join(errs...)
}

func fill(d *time.Duration, value time.Duration) {
	if *d == 0 {
		*d = value
	}
}

func within(what, key string, d, lo, hi time.Duration) error {
	if d < lo || d > hi {
		return fmt.Errorf("%s: %s is %v: give a time from %v to %v", what, key, d, lo, hi)
	}
	return nil
}
