package app_test

import (
	"bufio"
	"context"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/access"
	"headroom/daemon/app"
	"headroom/daemon/localtls"
)

// serving is a running program with a gate, and its PIN.
func serving(t *testing.T, change func(*app.Options)) (a *app.App, pin string) {
	opt := options(t, demoDriver(t))
	opt.Listen, opt.Folder = "127.0.0.1:0", t.TempDir()
	pin, err := access.NewPIN(access.Folder(opt.Folder))
	require.NoError(t, err)
	opt.Gate, err = access.Open(access.Folder(opt.Folder), access.Options{})
	require.NoError(t, err)
	if change != nil {
		change(&opt)
	}
	a, err = app.New(opt)
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- a.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		require.NoError(t, <-ended)
		require.NoError(t, a.Close())
	})
	require.Eventually(t, func() bool { return a.Store().Latest() != nil }, 10*time.Second, 20*time.Millisecond)
	return a, pin
}

// Half of the places are held by readers that never finish a request or never
// read, and somebody guesses PINs all the while: the tick goes on, a good
// request is answered, and who stalls is thrown out.
func TestNobodyDelaysTheTick(t *testing.T) {
	a, _ := serving(t, nil)
	at := strings.TrimSuffix(strings.TrimPrefix(a.URL(), "http://"), "/")
	stalled := make([]net.Conn, 60)
	for i := range stalled {
		c, err := net.Dial("tcp", at)
		require.NoError(t, err)
		defer c.Close()
		stalled[i] = c
		begin := "GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: "
		if i%2 == 0 {
			begin = "GET /api/v1/stream HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
		}
		_, err = io.WriteString(c, begin)
		require.NoError(t, err)
	}
	guessed := make(chan int)
	go func() {
		n := 0
		for range 12 {
			if resp, err := http.PostForm(a.URL()+"access/enter", url.Values{"pin": {fmt.Sprint(n)}}); err == nil {
				_ = resp.Body.Close()
				n++
			}
		}
		guessed <- n
	}()
	before, beats := a.Store().Latest().Seq, beating(t)
	require.Equal(t, 12, <-guessed)
	resp, err := http.Get(a.URL() + "api/v1/status")
	require.NoError(t, err)
	require.NoError(t, resp.Body.Close())
	require.Equal(t, http.StatusOK, resp.StatusCode)
	// Whoever never ends the header is thrown out within its patience.
	require.NoError(t, stalled[1].SetReadDeadline(time.Now().Add(20*time.Second)))
	_, err = io.Copy(io.Discard, bufio.NewReader(stalled[1]))
	require.NoError(t, err, "the connection must be closed by the server")
	could, ticks := float64(beats()), float64(a.Store().Latest().Seq-before)
	t.Logf("%.0f ticks; a bare clock of this machine came to %.0f", ticks, could)
	require.Greater(t, ticks, 0.8*could, "ten ticks a second, whoever asks")
}

// beating counts ten times a second in the simplest way there is, and tells how
// far it came: what a machine with much else to do can do at best.
func beating(t *testing.T) (count func() uint64) {
	var n atomic.Uint64
	tick := time.NewTicker(100 * time.Millisecond)
	stop := make(chan struct{})
	go func() {
		for {
			select {
			case <-tick.C:
				n.Add(1)
			case <-stop:
				return
			}
		}
	}()
	t.Cleanup(func() { tick.Stop(); close(stop) })
	return n.Load
}

func TestTooMuchIsRefused(t *testing.T) {
	a, _ := serving(t, nil)
	big := strings.NewReader(strings.Repeat("x", 1<<20))
	resp, err := http.Post(a.URL()+"access/enter", "application/x-www-form-urlencoded", big)
	if err == nil { // the server may hang up before all was sent
		require.NoError(t, resp.Body.Close())
		require.Equal(t, http.StatusBadRequest, resp.StatusCode)
	}
	req, err := http.NewRequest(http.MethodGet, a.URL(), nil)
	require.NoError(t, err)
	req.Header.Set("X-Big", strings.Repeat("x", 64<<10))
	resp, err = http.DefaultClient.Do(req)
	require.NoError(t, err)
	require.NoError(t, resp.Body.Close())
	require.Equal(t, http.StatusRequestHeaderFieldsTooLarge, resp.StatusCode)
}

// A page elsewhere sends a form with the owner's cookie, or points its own name
// here: neither changes anything.
func TestForeignPagesChangeNothing(t *testing.T) {
	a, pin := serving(t, nil)
	g, err := http.PostForm(a.URL()+"api/v1/session", url.Values{"pin": {pin}})
	require.NoError(t, err)
	body, err := io.ReadAll(g.Body)
	require.NoError(t, err)
	require.NoError(t, g.Body.Close())
	token := strings.Split(strings.SplitAfter(string(body), `"token":`)[1], `"`)[1]
	for name, c := range map[string]struct {
		host, origin, site string
		code               int
	}{
		"our own page":       {"", strings.TrimSuffix(a.URL(), "/"), "same-origin", http.StatusConflict},
		"a program":          {"", "", "", http.StatusConflict},
		"another site":       {"", "http://elsewhere.example", "cross-site", http.StatusForbidden},
		"an older browser":   {"", "http://elsewhere.example", "", http.StatusForbidden},
		"a rebound name":     {"elsewhere.example", "http://elsewhere.example", "same-origin", http.StatusMisdirectedRequest},
		"a name of the host": {"jetter.local", "http://jetter.local", "", http.StatusConflict},
	} {
		t.Run(name, func(t *testing.T) {
			req, err := http.NewRequest(http.MethodPost, a.URL()+"api/v1/alarms/inlet_low.act/reset", nil)
			require.NoError(t, err)
			req.AddCookie(&http.Cookie{Name: "headroom_session", Value: token})
			if c.host != "" {
				req.Host = c.host
			}
			if c.origin != "" {
				req.Header.Set("Origin", c.origin)
			}
			if c.site != "" {
				req.Header.Set("Sec-Fetch-Site", c.site)
			}
			resp, err := http.DefaultClient.Do(req)
			require.NoError(t, err)
			require.NoError(t, resp.Body.Close())
			require.Equal(t, c.code, resp.StatusCode)
		})
	}
}

func TestEncryptedPages(t *testing.T) {
	cert, err := localtls.Local(t.TempDir(), []string{"127.0.0.1", "localhost"}, time.Now())
	require.NoError(t, err)
	a, pin := serving(t, func(o *app.Options) { o.Certificate = &cert })
	require.True(t, strings.HasPrefix(a.URL(), "https://"))
	trusted := x509.NewCertPool()
	trusted.AddCert(cert.Leaf)
	client := &http.Client{
		Transport:     &http.Transport{TLSClientConfig: &tls.Config{RootCAs: trusted}},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
	resp, err := client.PostForm(a.URL()+"access/enter", url.Values{"pin": {pin}})
	require.NoError(t, err)
	require.NoError(t, resp.Body.Close())
	require.True(t, resp.Cookies()[0].Secure)
}
