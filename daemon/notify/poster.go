package notify

import (
	"bytes"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"
)

// Dial opens a network connection; it is (*net.Dialer).DialContext in shape.
type Dial func(ctx context.Context, network, address string) (net.Conn, error)

// HTTP is how a server is reached, the same for Alertmanager and webhook.
type HTTP struct {
	// URL of the server, http or https. User and password don't belong in it.
	// Its path and query may hold a token and are never logged.
	URL string
	// User and Password are sent as basic authentication (RFC 7617), Token as
	// a bearer token (RFC 6750). Give one of the two or none. Over http they
	// can be read by everybody on the way.
	User            string
	Password, Token Secret
	// TLS is for https; nil trusts the system's certificates.
	TLS *tls.Config
	// Dial opens connections; nil is the operating system's way. The proxy of
	// the environment is used only then.
	Dial Dial
}

// maxAnswer is as much of an answer as is read: enough to say what is wrong.
const maxAnswer = 512

// poster sends bodies to one server and turns answers into errors.
type poster struct {
	opt     HTTP
	url     *url.URL
	what    string // for errors
	client  *http.Client
	secrets []string
}

func newPoster(what string, opt HTTP) (*poster, error) {
	u, err := url.Parse(opt.URL)
	switch {
	case err != nil: // err would repeat the address and so its secrets
		return nil, fmt.Errorf("cannot use the %s's address: it is no URL; write it like https://alerts.example:9093", what)
	case u.Scheme != "http" && u.Scheme != "https", u.Host == "":
		return nil, fmt.Errorf("cannot use the %s's address: it must begin with http:// or https:// and a host", what)
	case u.User != nil:
		return nil, fmt.Errorf("cannot use the %s's address: take user and password out of it and give them on their own", what)
	case u.Fragment != "":
		return nil, fmt.Errorf("cannot use the %s's address: take out what follows the #", what)
	case opt.Token != "" && (opt.User != "" || opt.Password != ""):
		return nil, fmt.Errorf("cannot use both a token and a password for the %s: give one of them", what)
	}
	p := &poster{opt: opt, url: u, what: what}
	p.secrets = []string{opt.URL, u.RequestURI(), u.Path, u.RawQuery, string(opt.Password), string(opt.Token)}
	p.client = &http.Client{
		Transport: transport(opt),
		// A redirect would send the body, and maybe a secret, to somebody else.
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
	return p, nil
}

func transport(opt HTTP) *http.Transport {
	t := &http.Transport{
		TLSClientConfig: opt.TLS, DialContext: opt.Dial, Proxy: http.ProxyFromEnvironment,
		ForceAttemptHTTP2: true, MaxIdleConns: 1, MaxConnsPerHost: 1, IdleConnTimeout: 90 * time.Second,
	}
	if opt.Dial != nil {
		t.Proxy = nil
	}
	return t
}

// answer is what a server said to a request that it took.
type answer struct {
	date time.Time // zero when it gave none
	body string    // at most maxAnswer bytes
}

// do sends a body to addr and waits for the answer. Its errors hold no secret.
func (p *poster) do(ctx context.Context, method string, addr *url.URL, body []byte, header http.Header) (answer, error) {
	req, err := http.NewRequestWithContext(ctx, method, addr.String(), bytes.NewReader(body))
	if err != nil {
		return answer{}, fmt.Errorf("cannot reach the %s at %s: its address can't be asked", p.what, p.place())
	}
	for k, v := range header {
		req.Header[k] = v
	}
	req.Header.Set("User-Agent", "headroom")
	p.authorize(req)
	resp, err := p.client.Do(req)
	if err != nil {
		return answer{}, fmt.Errorf("cannot reach the %s at %s: %s", p.what, p.place(), p.clean(err))
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(io.LimitReader(resp.Body, maxAnswer))
	date, _ := http.ParseTime(resp.Header.Get("Date")) // zero when absent
	a := answer{date: date, body: strings.TrimSpace(mask(string(text), p.secrets...))}
	if resp.StatusCode/100 == 2 {
		if err != nil {
			return a, fmt.Errorf("cannot read the answer of the %s at %s: %s", p.what, p.place(), p.clean(err))
		}
		return a, nil
	}
	return a, p.failure(resp)
}

func (p *poster) authorize(req *http.Request) {
	switch {
	case p.opt.Token != "":
		req.Header.Set("Authorization", "Bearer "+string(p.opt.Token))
	case p.opt.User != "" || p.opt.Password != "":
		req.SetBasicAuth(p.opt.User, string(p.opt.Password))
	}
}

// place is the part of the address that may be shown.
func (p *poster) place() string { return p.url.Scheme + "://" + p.url.Host }

// clean returns an error's words without the address that net/http puts in
// front, and without secrets.
func (p *poster) clean(err error) string {
	var u *url.Error
	if errors.As(err, &u) {
		err = u.Err
	}
	return mask(err.Error(), p.secrets...)
}

// failure is the error of an answer that isn't 2xx.
func (p *poster) failure(resp *http.Response) error {
	f := &Failure{Err: fmt.Errorf("the %s at %s answered %d %s%s",
		p.what, p.place(), resp.StatusCode, http.StatusText(resp.StatusCode), mend(resp.StatusCode))}
	switch resp.StatusCode {
	case http.StatusBadRequest, http.StatusRequestEntityTooLarge, http.StatusUnprocessableEntity:
		f.Refused = true
	case http.StatusTooManyRequests, http.StatusServiceUnavailable:
		f.After = retryAfter(resp.Header.Get("Retry-After"), resp.Header.Get("Date"))
	}
	return f
}

// mend says what to look at.
func mend(code int) string {
	switch {
	case code/100 == 3:
		return ": redirects are not followed; give the address it leads to"
	case code == http.StatusUnauthorized, code == http.StatusForbidden:
		return ": check user, password or token"
	case code == http.StatusNotFound, code == http.StatusMethodNotAllowed:
		return ": check the path of the address"
	}
	return ""
}

// retryAfter reads a Retry-After header: seconds, or a time that is compared
// with the server's own clock, since ours may be wrong (RFC 9110, 10.2.3).
func retryAfter(value, date string) time.Duration {
	if s, err := strconv.ParseUint(value, 10, 31); err == nil {
		return time.Duration(s) * time.Second
	}
	at, err := http.ParseTime(value)
	now, err2 := http.ParseTime(date)
	if err != nil || err2 != nil {
		return 0
	}
	return max(at.Sub(now), 0)
}

func (p *poster) close() { p.client.CloseIdleConnections() }
