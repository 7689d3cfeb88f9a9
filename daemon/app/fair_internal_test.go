package app

import (
	"io"
	"net"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/netutil"
)

// dialFrom connects from one of the addresses that a machine has for itself,
// and reports whether the server keeps the connection.
func dialFrom(t *testing.T, from, to string) (c net.Conn, kept bool) {
	c, err := (&net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(from)}, Timeout: 5 * time.Second}).Dial("tcp", to)
	if err != nil {
		t.Skipf("skipped: needs 127.0.0.2 as an address of its own: %v", err)
	}
	t.Cleanup(func() { _ = c.Close() })
	require.NoError(t, c.SetReadDeadline(time.Now().Add(10*time.Second)))
	_, err = io.ReadFull(c, make([]byte, 1))
	return c, err == nil
}

func TestOneAddressDoesNotShutOutTheOthers(t *testing.T) {
	raw, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	l := netutil.LimitListener(newFair(raw), maxConnections)
	t.Cleanup(func() { _ = l.Close() })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			_, _ = c.Write([]byte("x"))
			go func() { _, _ = io.Copy(io.Discard, c); _ = c.Close() }()
		}
	}()
	to := raw.Addr().String()
	var first net.Conn
	for i := range maxConnections + 1 {
		c, kept := dialFrom(t, "127.0.0.1", to)
		require.Equal(t, i < maxPerAddress, kept, i)
		if i == 0 {
			first = c
		}
	}
	_, kept := dialFrom(t, "127.0.0.2", to)
	require.True(t, kept, "somebody else gets in")
	require.NoError(t, first.Close())
	require.Eventually(t, func() bool { _, kept := dialFrom(t, "127.0.0.1", to); return kept }, 10*time.Second, 20*time.Millisecond, "a place that was left is free")
}
