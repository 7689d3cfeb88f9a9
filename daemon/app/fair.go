package app

import (
	"net"
	"net/netip"
	"sync"
)

// maxPerAddress is how many connections one address may hold: more than the
// phones behind a proxy need, and few enough that a forgotten script on one
// machine keeps nobody else from the alarms.
const maxPerAddress = maxConnections / 2

// fair is a listener that turns away whoever holds maxPerAddress connections.
type fair struct {
	net.Listener
	mu   sync.Mutex
	held map[netip.Addr]int
}

func newFair(l net.Listener) *fair { return &fair{Listener: l, held: map[netip.Addr]int{}} }

// Accept waits for a connection of somebody who may have one more.
func (f *fair) Accept() (net.Conn, error) {
	for {
		c, err := f.Listener.Accept()
		if err != nil {
			return nil, err
		}
		from := addressOf(c)
		if f.take(from) {
			return &fairConn{Conn: c, leave: sync.OnceFunc(func() { f.give(from) })}, nil
		}
		_ = c.Close() // nothing was said on it
	}
}

func (f *fair) take(from netip.Addr) bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.held[from] >= maxPerAddress {
		return false
	}
	f.held[from]++
	return true
}

func (f *fair) give(from netip.Addr) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.held[from]--; f.held[from] == 0 {
		delete(f.held, from)
	}
}

// addressOf is the other end; what has no IP address is one and the same.
func addressOf(c net.Conn) netip.Addr {
	at, err := netip.ParseAddrPort(c.RemoteAddr().String())
	if err != nil {
		return netip.Addr{}
	}
	return at.Addr().Unmap()
}

// fairConn gives its place back when it is closed.
type fairConn struct {
	net.Conn
	leave func()
}

// Close closes it and gives its place back.
func (c *fairConn) Close() error {
	c.leave()
	return c.Conn.Close()
}
