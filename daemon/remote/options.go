package remote

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/url"
	"regexp"
	"strings"
	"time"

	"headroom/daemon/config"
)

// The versions of the protocol.
const (
	// V1 is understood by every receiver.
	V1 = "v1"
	// V2 is smaller on the wire, and some receivers answer 2xx and store
	// nothing of it: that is found out and refused.
	V2 = "v2"
)

// Options of a Sender. URL, Machine, Record and Folder are required.
type Options struct {
	// URL of the store, http or https; without a path it is /api/v1/write.
	URL string
	// Protocol is V1 or V2; empty is V1.
	Protocol string
	// Machine is its name, the label machine of every series. Each machine
	// needs its own.
	Machine string
	// Labels are further labels as "name=value", at most eight.
	Labels []string
	// TokenFile holds a bearer token; it is read for each attempt, so a token
	// can be changed without a restart. Empty for none.
	TokenFile string
	// User and PasswordFile are for basic authentication; empty for none.
	User, PasswordFile string
	// CAFile holds certificates to trust instead of the system's.
	CAFile string
	// Width of the windows: 1 s, 10 s or 1 min; 0 chooses by the budget, and is
	// 10 s without one.
	Width time.Duration
	// Budget is the most bytes in and out on a day (UTC), TLS and headers
	// counted; 0 for no limit. Alarms and counters go on beyond it.
	Budget int64
	// Every is how much of the record waits until a message is sent, from 1 min
	// to 1 h; 0 is a minute.
	Every time.Duration
	// CatchUp is how many times faster than life the record is sent where it
	// lies behind, from 2 to 100,000; 0 is 600.
	CatchUp float64
	// AnyClock sends with times that nobody vouched for.
	AnyClock bool
	// Record gives the record, nil while it can't be had.
	Record func() Record
	// Clock is the present boot's own time; nil looks into the record instead,
	// at each turn.
	Clock func() time.Duration
	// Folder for the position.
	Folder string
	// Dial opens connections; nil is the operating system's way.
	Dial func(ctx context.Context, network, address string) (net.Conn, error)
	// Log takes one line for each change of state; nil is slog.Default.
	Log *slog.Logger

	// mostMinutes of the record in a message, for tests; 0 for maxMinutes.
	mostMinutes int
}

func (o *Options) most() int {
	if o.mostMinutes > 0 {
		return o.mostMinutes
	}
	return maxMinutes
}

// Limits and defaults. Common practice, no source.
const (
	defaultPath    = "/api/v1/write"
	defaultCatchUp = 600
	defaultWidth   = 10 * time.Second
	maxLabels      = 8
	maxLabelLength = 128
)

var labelName = regexp.MustCompile(`^[a-zA-Z_][a-zA-Z0-9_]*$`)

// reserved are labels that the series have of themselves.
var reserved = map[string]bool{
	nameLabel: true, machineLabel: true, simulatedLabel: true, playbackLabel: true, "channel": true, "status": true, "rule": true, "alarm": true, "level": true,
	"state": true, "limit": true, "version": true,
}

// FromConfig are the options that a config states; what the program adds, the
// record and its folder among it, is left out.
func FromConfig(c *config.Config) Options {
	r := &c.Remote
	return Options{
		URL: r.URL, Protocol: r.Protocol, Machine: c.Name, Labels: r.Labels,
		TokenFile: r.TokenFile, User: r.User, PasswordFile: r.PasswordFile, CAFile: r.CAFile,
		Width: r.Width(), Budget: r.DailyBytes, Every: r.Every, CatchUp: r.CatchUp, AnyClock: r.AnyClock,
	}
}

// Check says what is wrong in the [remote] section of a config, each with its
// mend; nil where nothing is, or where nothing is to be sent. It opens no file.
func Check(c *config.Config) error {
	if c.Remote.URL == "" {
		return nil
	}
	o := FromConfig(c)
	return errors.Join(o.stated()...)
}

// check fills in the defaults and returns all that is wrong, each with its
// mend.
func (o *Options) check() error {
	errs := o.stated()
	if o.Record == nil || o.Folder == "" {
		errs = append(errs, errors.New("nothing is recorded, so nothing can be sent: give the record a folder"))
	}
	if o.Log == nil {
		o.Log = slog.Default()
	}
	return errors.Join(errs...)
}

// stated is the part of check about what a person wrote.
func (o *Options) stated() (errs []error) {
	if err := checkURL(o.URL); err != nil {
		errs = append(errs, err)
	}
	if o.Protocol == "" {
		o.Protocol = V1
	}
	if o.Protocol != V1 && o.Protocol != V2 {
		errs = append(errs, fmt.Errorf("there is no protocol %q: write v1 or v2", o.Protocol))
	}
	if _, err := o.common(); err != nil {
		errs = append(errs, err)
	}
	if o.TokenFile != "" && (o.User != "" || o.PasswordFile != "") {
		errs = append(errs, errors.New("a token and a password are both given: keep one of them"))
	}
	switch o.Width {
	case 0, time.Second, 10 * time.Second, time.Minute:
	default:
		errs = append(errs, fmt.Errorf("the window %v is none of 1 s, 10 s and 1 min", o.Width))
	}
	if o.Every == 0 {
		o.Every = minute
	}
	if o.CatchUp == 0 {
		o.CatchUp = defaultCatchUp
	}
	if o.Every < minute || o.Every > time.Hour {
		errs = append(errs, fmt.Errorf("every %v is not from 1 min to 1 h", o.Every))
	}
	if !(o.CatchUp >= 2 && o.CatchUp <= 100_000) {
		errs = append(errs, fmt.Errorf("catch_up %g is not from 2 to 100000", o.CatchUp))
	}
	if o.Budget < 0 {
		errs = append(errs, errors.New("the budget is below 0"))
	}
	return errs
}

// checkURL never repeats the address: it may hold a secret.
func checkURL(addr string) error {
	u, err := url.Parse(addr)
	switch {
	case err != nil:
		return errors.New("the url is none; write it like https://store.example/api/v1/write")
	case u.Scheme != "http" && u.Scheme != "https", u.Host == "":
		return errors.New("the url must begin with http:// or https:// and a host")
	case u.User != nil:
		return errors.New("take user and password out of the url, and give them on their own")
	case u.Fragment != "":
		return errors.New("take out what follows the # of the url")
	}
	return nil
}

// common are the labels that every series carries.
func (o *Options) common() ([]label, error) {
	if strings.TrimSpace(o.Machine) == "" || len(o.Machine) > maxLabelLength {
		return nil, fmt.Errorf("the machine's name is its label and must have 1 to %d bytes: set machine.name", maxLabelLength)
	}
	if len(o.Labels) > maxLabels {
		return nil, fmt.Errorf("%d labels are too many: every series carries them all; give at most %d", len(o.Labels), maxLabels)
	}
	out := []label{{machineLabel, o.Machine}}
	seen := map[string]bool{}
	for _, text := range o.Labels {
		name, value, ok := strings.Cut(text, "=")
		switch {
		case !ok || value == "" || len(value) > maxLabelLength:
			return nil, fmt.Errorf("the label %q is not like \"site=yard\", with 1 to %d bytes behind the =", text, maxLabelLength)
		case !labelName.MatchString(name) || strings.HasPrefix(name, "__"):
			return nil, fmt.Errorf("the label's name %q has other signs than letters, digits and _", name)
		case reserved[name]:
			return nil, fmt.Errorf("the label %q is one that the series have already: choose another name", name)
		case seen[name]:
			return nil, fmt.Errorf("the label %q is given twice: keep one", name)
		}
		seen[name] = true
		out = append(out, label{name, value})
	}
	return out, nil
}
