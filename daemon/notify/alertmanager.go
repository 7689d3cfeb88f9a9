package notify

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"regexp"
	"time"

	"headroom/rules/engine"
)

// AlertmanagerOptions of an Alertmanager. URL is required: the address of the
// server without /api/v2, for example http://alerts.example:9093.
type AlertmanagerOptions struct {
	HTTP
	// Repeat is how often standing alarms are sent again, from 5 s to 1 h; 0 is
	// DefaultRepeat. Alarms that have returned are repeated for some minutes
	// too, in case the server lost them.
	Repeat time.Duration
	// Hold is how long an alarm stands at the server after it was last heard
	// of, at least two and a half times Repeat and at most a day; 0 is
	// DefaultHold, or four times Repeat where that is longer. A gap in the
	// network that is shorter than this isn't taken for an all-clear.
	Hold time.Duration
	// Labels are added to each alert, for routing. They can't replace our own.
	Labels map[string]string
}

// Defaults of the Alertmanager. Common practice, no source.
const (
	DefaultRepeat = time.Minute
	DefaultHold   = 10 * time.Minute

	minRepeat = 5 * time.Second
	maxRepeat = time.Hour
	maxHold   = 24 * time.Hour
	linger    = 15 * time.Minute
)

// Alertmanager speaks the HTTP API v2 of the Prometheus Alertmanager: POST
// /api/v2/alerts. All times are told by the server's own clock, which its Date
// header gives away, and our monotonic one: a board whose clock is off by days
// would otherwise send alarms that are over before they begin.
type Alertmanager struct {
	post           *poster
	alerts, status *url.URL
	repeat, hold   time.Duration
	labels         map[string]string
	// serverAt is what the server's clock said when ours said localAt; zero
	// before its first answer.
	serverAt, localAt time.Time
}

var _ Sink = (*Alertmanager)(nil)

// NewAlertmanager checks the options. Nothing is sent yet.
func NewAlertmanager(opt AlertmanagerOptions) (*Alertmanager, error) {
	p, err := newPoster("Alertmanager", opt.HTTP)
	if err != nil {
		return nil, err
	}
	fill(&opt.Repeat, DefaultRepeat)
	fill(&opt.Hold, max(DefaultHold, 4*opt.Repeat))
	err = errors.Join(
		within("Alertmanager", "repeat", opt.Repeat, minRepeat, maxRepeat),
		within("Alertmanager", "hold", opt.Hold, opt.Repeat*5/2, maxHold),
		checkLabels(opt.Labels),
	)
	if err != nil {
		return nil, err
	}
	return &Alertmanager{
		post: p, alerts: p.url.JoinPath("api/v2/alerts"), status: p.url.JoinPath("api/v2/status"),
		repeat: opt.Repeat, hold: opt.Hold, labels: maps.Clone(opt.Labels),
	}, nil
}

var labelName = regexp.MustCompile(`^[a-zA-Z_][a-zA-Z0-9_]*$`)

func checkLabels(labels map[string]string) error {
	ours := identity(&Notification{Alarm: engine.WarnAlarm(0)})
	maps.Copy(ours, identity(&Notification{Alarm: engine.SensorAlarm(0)}))
	for k, v := range labels {
		if !labelName.MatchString(k) || v == "" {
			return fmt.Errorf("cannot use the label %q for the Alertmanager: a name takes letters, digits and _, begins with no digit, and needs a value", k)
		}
		if _, taken := ours[k]; taken {
			return fmt.Errorf("cannot use the label %q for the Alertmanager: headroom sets it itself; take another name", k)
		}
	}
	return nil
}

// Kind returns "alertmanager".
func (a *Alertmanager) Kind() string { return "alertmanager" }

// Traits: all alarms at once, with reminders so that none resolves by itself.
func (a *Alertmanager) Traits() Traits {
	return Traits{Batch: engine.NumAlarms, Repeat: a.repeat, Linger: linger}
}

// Send posts the alarms as alerts. What was never raised is left out.
func (a *Alertmanager) Send(ctx context.Context, batch []Notification) error {
	if a.serverAt.IsZero() {
		ans, err := a.post.do(ctx, http.MethodGet, a.status, nil, nil)
		if err != nil {
			return again(err)
		}
		a.setClock(ans.date)
	}
	var alerts []alert
	for i := range batch {
		if batch[i].State != NotRaised {
			alerts = append(alerts, a.alert(&batch[i]))
		}
	}
	if len(alerts) == 0 {
		return nil
	}
	body, err := json.Marshal(alerts)
	if err != nil {
		return &Failure{Err: fmt.Errorf("cannot write alerts as JSON: %w", err), Refused: true}
	}
	ans, err := a.post.do(ctx, http.MethodPost, a.alerts, body, http.Header{"Content-Type": {"application/json"}})
	a.setClock(ans.date)
	if err != nil && ans.body != "" {
		return withWords(err, ans.body)
	}
	return err
}

// again makes a refusal of a question one that is asked again: nothing of ours
// can be wrong with it.
func again(err error) error {
	var f *Failure
	if errors.As(err, &f) {
		return &Failure{Err: f.Err, After: f.After}
	}
	return err
}

// withWords adds what the server said.
func withWords(err error, body string) error {
	var f *Failure
	if errors.As(err, &f) {
		return &Failure{Err: fmt.Errorf("%w: %q", f.Err, body), Refused: f.Refused, After: f.After}
	}
	return err
}

// Close drops the idle connection. Alarms that stand are not resolved: that the
// machine is off doesn't mean that it is well. They end after Hold.
func (a *Alertmanager) Close(context.Context) error {
	a.post.close()
	return nil
}
