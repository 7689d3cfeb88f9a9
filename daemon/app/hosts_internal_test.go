package app

import (
	"bytes"
	"fmt"
	"log/slog"
	"net"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestHostsArePlacesToGo: what is printed can be typed into another machine.
func TestHostsArePlacesToGo(t *testing.T) {
	var all []net.Addr
	for _, s := range []string{"127.0.0.1/8", "::1/128", "fe80::1/64", "169.254.3.4/16", "2001:db8::5/64", "192.0.2.7/24"} {
		ip, n, err := net.ParseCIDR(s)
		require.NoError(t, err)
		n.IP = ip
		all = append(all, n)
	}
	require.Equal(t, []string{"192.0.2.7:8080", "[2001:db8::5]:8080", "127.0.0.1:8080"}, hostsOf(all, 8080))
	require.Equal(t, []string{"127.0.0.1:80"}, hostsOf(nil, 80))
	l, err := net.Listen("tcp", ":0")
	require.NoError(t, err)
	defer l.Close()
	a := &App{listen: l}
	for _, url := range a.URLs() {
		require.NotContains(t, url, "[::]")
		require.NotContains(t, url, "0.0.0.0")
	}
	require.Equal(t, a.URLs()[0], a.URL())
}

// TestTroubleIsToldOnce: a full disk doesn't fill the log, too.
func TestTroubleIsToldOnce(t *testing.T) {
	var log bytes.Buffer
	a := &App{log: slog.New(slog.NewTextHandler(&log, nil))}
	was := ""
	for i := range 5 {
		a.tellOnce(&was, fmt.Errorf("cannot write kept.%d: %w", i, syscall.ENOSPC), "fails", "works again")
	}
	require.Equal(t, 1, strings.Count(log.String(), "msg=fails"))
	a.tellOnce(&was, syscall.EROFS, "fails", "works again")
	require.Equal(t, 2, strings.Count(log.String(), "msg=fails"))
	for range 3 {
		a.tellOnce(&was, nil, "fails", "works again")
	}
	require.Equal(t, 1, strings.Count(log.String(), "works again"))
}
