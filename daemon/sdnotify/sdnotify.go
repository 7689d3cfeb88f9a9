// Package sdnotify tells the service manager how the program is doing: that it
// is ready, what it does, that it is alive, that it stops. It speaks the
// datagram protocol of $NOTIFY_SOCKET and nothing else. It refuses to wait: a
// manager that doesn't read costs the caller no more than a few milliseconds,
// since the caller is the tick. Without a manager every call does nothing.
package sdnotify

import (
	"fmt"
	"net"
	"os"
	"strconv"
	"strings"
	"time"
)

// within bounds one message.
const within = 5 * time.Millisecond

// Notifier is the way to the manager. A nil Notifier is one without a manager.
type Notifier struct {
	conn     *net.UnixConn
	watchdog time.Duration
}

// FromEnv makes a notifier from NOTIFY_SOCKET, WATCHDOG_USEC and WATCHDOG_PID;
// getenv is os.Getenv. It returns nil without an error where there is no
// manager. A name that begins with @ is in Linux' abstract space. Source: the
// manual pages sd_notify(3) and sd_watchdog_enabled(3).
func FromEnv(getenv func(string) string) (*Notifier, error) {
	name := getenv("NOTIFY_SOCKET")
	if name == "" {
		return nil, nil
	}
	conn, err := net.DialUnix("unixgram", nil, &net.UnixAddr{Name: name, Net: "unixgram"})
	if err != nil {
		return nil, fmt.Errorf("cannot reach the service manager at NOTIFY_SOCKET %q: %w", name, err)
	}
	n := &Notifier{conn: conn}
	usec, err := strconv.ParseInt(getenv("WATCHDOG_USEC"), 10, 64)
	pid := getenv("WATCHDOG_PID")
	if err == nil && usec > 0 && (pid == "" || pid == strconv.Itoa(os.Getpid())) {
		n.watchdog = time.Duration(usec) * time.Microsecond
	}
	return n, nil
}

// Watchdog returns how long the manager waits for a sign of life; 0 for no
// watchdog. Half of it is a good pace.
func (n *Notifier) Watchdog() time.Duration {
	if n == nil {
		return 0
	}
	return n.watchdog
}

// Ready says that the start is over.
func (n *Notifier) Ready() error { return n.send("READY=1") }

// Alive feeds the watchdog.
func (n *Notifier) Alive() error { return n.send("WATCHDOG=1") }

// Stopping says that the end has begun.
func (n *Notifier) Stopping() error { return n.send("STOPPING=1") }

// Status shows one line of text. Line ends in it become blanks: they would end
// the field.
func (n *Notifier) Status(text string) error {
	return n.send("STATUS=" + strings.NewReplacer("\n", " ", "\r", " ").Replace(text))
}

func (n *Notifier) send(message string) error {
	if n == nil {
		return nil
	}
	err := n.conn.SetWriteDeadline(time.Now().Add(within))
	if err == nil {
		_, err = n.conn.Write([]byte(message))
	}
	if err != nil {
		return fmt.Errorf("cannot tell the service manager %s: %w", message, err)
	}
	return nil
}

// Close gives the socket back.
func (n *Notifier) Close() error {
	if n == nil {
		return nil
	}
	return n.conn.Close()
}
