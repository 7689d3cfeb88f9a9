package localtls

import (
	"crypto/tls"
	"crypto/x509"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var day = time.Date(2027, time.March, 1, 12, 0, 0, 0, time.UTC)

func TestMadeOnceAndKept(t *testing.T) {
	dir := t.TempDir()
	one, err := Local(dir, []string{"jetter.local", "10.42.0.1"}, day)
	require.NoError(t, err)
	two, err := Local(dir, []string{"192.168.7.9", "jetter.local"}, day.Add(24*time.Hour))
	require.NoError(t, err)
	require.Equal(t, Fingerprint(one), Fingerprint(two))
	require.Regexp(t, `^([0-9A-F]{2}:){31}[0-9A-F]{2}$`, Fingerprint(one))
	info, err := os.Stat(filepath.Join(dir, keyFile))
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
}

func TestMadeAnew(t *testing.T) {
	for name, again := range map[string]struct {
		names  []string
		now    time.Time
		damage string
	}{
		"another name":      {[]string{"jetter.local", "other.local"}, day, ""},
		"soon over":         {[]string{"jetter.local"}, day.Add(lasts - renew + time.Hour), ""},
		"cut between files": {[]string{"jetter.local"}, day, certFile},
		"key gone":          {[]string{"jetter.local"}, day, keyFile},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			one, err := Local(dir, []string{"jetter.local"}, day)
			require.NoError(t, err)
			if again.damage != "" {
				require.NoError(t, os.WriteFile(filepath.Join(dir, again.damage), nil, 0o600))
			}
			two, err := Local(dir, again.names, again.now)
			require.NoError(t, err)
			require.NotEqual(t, Fingerprint(one), Fingerprint(two))
		})
	}
}

func TestClockThatWasNeverSet(t *testing.T) {
	c, err := Local(t.TempDir(), []string{"jetter.local"}, time.Unix(60, 0))
	require.NoError(t, err)
	require.True(t, c.Leaf.NotAfter.After(builtAfter.Add(lasts-time.Hour)))
}

func TestBrowserThatTrustsItGetsIn(t *testing.T) {
	c, err := Local(t.TempDir(), []string{"localhost", "127.0.0.1"}, time.Now())
	require.NoError(t, err)
	srv := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNoContent) }))
	srv.TLS = &tls.Config{Certificates: []tls.Certificate{c}}
	srv.StartTLS()
	defer srv.Close()
	trusted := x509.NewCertPool()
	trusted.AddCert(c.Leaf)
	for pool, ok := range map[*x509.CertPool]bool{trusted: true, x509.NewCertPool(): false} {
		client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}}}
		res, err := client.Get(srv.URL)
		require.Equal(t, ok, err == nil, "%v", err)
		if ok {
			require.NoError(t, res.Body.Close())
		}
	}
}

func TestOwnNames(t *testing.T) {
	names, err := Names()
	require.NoError(t, err)
	require.Contains(t, names, "localhost")
	_, err = Local(t.TempDir(), names, day)
	require.NoError(t, err)
	_, err = Local(t.TempDir(), nil, day)
	require.Error(t, err)
}
