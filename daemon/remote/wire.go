package remote

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"strconv"
	"strings"
	"sync/atomic"
	"time"
)

const (
	// maxAnswer is as much of an answer as is read: enough to say what is wrong.
	maxAnswer = 512
	// maxAfter is the longest that a store may ask to be left alone.
	maxAfter = time.Hour
	// within is how long one attempt may take on a bad link.
	within = time.Minute
)

// wire is the way to the store: it counts what passes, adds the secret, and
// keeps what the store answered.
type wire struct {
	opt     *Options
	url     *url.URL
	next    *http.Transport
	out, in atomic.Uint64
	// status and answer are of the last attempt; status is 0 where none came.
	status  atomic.Int64
	secrets []string
}

func newWire(opt *Options) (*wire, error) {
	u, err := url.Parse(opt.URL)
	if err != nil {
		return nil, errors.New("the url is none")
	}
	if u.Path == "" || u.Path == "/" {
		u.Path = defaultPath
	}
	w := &wire{opt: opt, url: u}
	conf := &tls.Config{MinVersion: tls.VersionTLS12}
	if opt.CAFile != "" {
		text, err := os.ReadFile(opt.CAFile)
		if err != nil {
			return nil, fmt.Errorf("cannot read the certificates to trust: %w", err)
		}
		conf.RootCAs = x509.NewCertPool()
		if !conf.RootCAs.AppendCertsFromPEM(text) {
			return nil, fmt.Errorf("%s holds no certificate in PEM", opt.CAFile)
		}
	}
	w.next = &http.Transport{
		TLSClientConfig: conf, DialContext: w.dial, ForceAttemptHTTP2: true,
		MaxIdleConns: 1, MaxConnsPerHost: 1, IdleConnTimeout: 3 * time.Minute,
	}
	if opt.Dial == nil {
		w.next.Proxy = http.ProxyFromEnvironment
	}
	w.secrets = []string{opt.URL, u.String(), u.RequestURI(), u.RawQuery}
	return w, nil
}

// client makes the HTTP client that the protocol's library uses.
func (w *wire) client() *http.Client {
	return &http.Client{
		Transport: w, Timeout: within,
		// A redirect would send the data, and maybe a secret, to somebody else.
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
}

func (w *wire) dial(ctx context.Context, network, addr string) (net.Conn, error) {
	dial := w.opt.Dial
	if dial == nil {
		dial = (&net.Dialer{}).DialContext
	}
	c, err := dial(ctx, network, addr)
	if err != nil {
		return nil, err
	}
	return &counted{c, w}, nil
}

// counted is a connection whose bytes are counted both ways.
type counted struct {
	net.Conn
	w *wire
}

func (c *counted) Read(b []byte) (int, error) {
	n, err := c.Conn.Read(b)
	c.w.in.Add(uint64(max(n, 0)))
	return n, err
}

func (c *counted) Write(b []byte) (int, error) {
	n, err := c.Conn.Write(b)
	c.w.out.Add(uint64(max(n, 0)))
	return n, err
}

// RoundTrip is one attempt. An answer counts by its status alone: what follows
// of it may be cut off by the link.
func (w *wire) RoundTrip(req *http.Request) (*http.Response, error) {
	w.status.Store(0)
	req = req.Clone(req.Context())
	req.Header.Set("User-Agent", "headroom")
	if err := w.authorize(req); err != nil {
		return nil, err
	}
	resp, err := w.next.RoundTrip(req)
	if err != nil {
		return nil, err
	}
	text, _ := io.ReadAll(io.LimitReader(resp.Body, maxAnswer)) // a part will do
	_ = resp.Body.Close()
	resp.Body = io.NopCloser(bytes.NewReader(text))
	resp.Header.Set("Retry-After", after(resp.Header.Get("Retry-After"), resp.Header.Get("Date")))
	if resp.StatusCode/100 == 5 && tooOld(text) {
		resp.StatusCode, resp.Status = http.StatusBadRequest, "400 Bad Request"
	}
	w.status.Store(int64(resp.StatusCode))
	return resp, nil
}

// tooOld finds an answer that would be given for ever: Prometheus 2.42 says 500
// to samples from before its window for late ones, and so asks for them again.
func tooOld(answer []byte) bool { return bytes.Contains(answer, []byte("too old sample")) }

func (w *wire) authorize(req *http.Request) error {
	switch o := w.opt; {
	case o.TokenFile != "":
		token, err := secret(o.TokenFile)
		if err != nil {
			return err
		}
		req.Header.Set("Authorization", "Bearer "+token)
	case o.User != "" || o.PasswordFile != "":
		password, err := secret(o.PasswordFile)
		if err != nil {
			return err
		}
		req.SetBasicAuth(o.User, password)
	}
	return nil
}

// secret reads a file that holds one secret and perhaps a line end.
func secret(path string) (string, error) {
	if path == "" {
		return "", nil
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return "", fmt.Errorf("cannot read the secret: %w", err)
	}
	return strings.TrimRight(string(text), "\r\n"), nil
}

// after is a Retry-After in seconds, bounded, and for a date reckoned from the
// store's own clock, since ours may be wrong (RFC 9110, 10.2.3).
func after(value, date string) string {
	wait := time.Duration(0)
	if s, err := strconv.ParseUint(value, 10, 31); err == nil {
		wait = time.Duration(s) * time.Second
	} else if at, err := http.ParseTime(value); err == nil {
		if now, err := http.ParseTime(date); err == nil {
			wait = at.Sub(now)
		}
	}
	return strconv.Itoa(int(min(max(wait, 0), maxAfter) / time.Second))
}

// place is the part of the address that may be shown.
func (w *wire) place() string { return w.url.Scheme + "://" + w.url.Host }

// clean are an error's words without the address and what is in it.
func (w *wire) clean(err error) string {
	var u *url.Error
	if errors.As(err, &u) {
		err = u.Err
	}
	text := err.Error()
	for _, s := range append(w.secrets, w.readSecrets()...) {
		if len(s) > 1 {
			text = strings.ReplaceAll(text, s, "[secret]")
		}
	}
	return strings.TrimSpace(text)
}

// readSecrets are those of the files, in case a server repeats them.
func (w *wire) readSecrets() (out []string) {
	for _, path := range []string{w.opt.TokenFile, w.opt.PasswordFile} {
		if s, err := secret(path); err == nil {
			out = append(out, s)
		}
	}
	return out
}
