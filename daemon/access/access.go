// Package access decides who may change something: whoever knows this device's
// own PIN. It owns the PIN, which is random, drawn on the device and kept only
// as an argon2id hash, the sessions of those who gave it, and the patience with
// those who guess. No two devices share a PIN and none has a default.
//
// It refuses to serve pages or read requests, which the dashboard does with its
// help, and it is no defence against somebody who holds the device in the hand:
// who can write its disk can draw a new PIN, which is also the way back for an
// owner who lost it.
package access

import (
	"context"
	"errors"
	"fmt"
	"net/netip"
	"os"
	"path/filepath"
	"sync"
	"time"
)

// The files in the folder. The command line writes the first while the daemon
// runs, and only the daemon the second, so neither overwrites the other's work.
const (
	pinFile     = "pin"
	sessionFile = "sessions.json"
)

var (
	// ErrNoPIN means that no PIN was drawn yet, so nothing can be changed.
	ErrNoPIN = errors.New("this device has no PIN yet; draw one on the device with: headroom pin new")
	// ErrWrong means that the PIN isn't this device's.
	ErrWrong = errors.New("this is not the PIN of this device")
)

// WaitError means that too many wrong PINs came: the next try counts only
// after For.
type WaitError struct{ For time.Duration }

// Error says how long to wait.
func (e *WaitError) Error() string {
	return fmt.Sprintf("too many wrong PINs; try again in %s", e.For.Round(time.Second))
}

// Gate is a device's PIN with its sessions. All methods are safe for use by
// many.
type Gate struct {
	dir  string
	now  func() time.Time
	mono func() time.Duration
	// hashing is held while a PIN is compared: each comparison takes memory and
	// a core on purpose, so there is never more than one.
	hashing chan struct{}

	mu       sync.Mutex
	pin      pin
	pinSeen  stamp
	sessions sessions
	limit    limiter
}

// stamp tells a file from its successor.
type stamp struct {
	size int64
	mod  time.Time
}

// Options of a gate; the zero value is for use, the rest for tests.
type Options struct {
	// Now is the wall clock that sessions age by, Mono a clock that never
	// jumps, for the patience.
	Now  func() time.Time
	Mono func() time.Duration
}

// Open reads the PIN and the sessions below dir, which need not exist. A file
// of sessions that can't be read costs no more than the sessions; a PIN that
// can't be read is an error, because else the device would seem to have none.
// The gate is there with it, too, and closed until a new PIN is drawn.
func Open(dir string, opt Options) (*Gate, error) {
	g := &Gate{dir: dir, now: opt.Now, mono: opt.Mono, hashing: make(chan struct{}, 1)}
	if g.now == nil {
		g.now = time.Now
	}
	if g.mono == nil {
		start := time.Now()
		g.mono = func() time.Duration { return time.Since(start) }
	}
	g.limit = newLimiter()
	g.sessions = readSessions(filepath.Join(dir, sessionFile))
	return g, g.reload()
}

// reload reads the PIN when its file isn't the one that was read last. The
// caller holds mu, or nobody else has g yet.
func (g *Gate) reload() error {
	path := filepath.Join(g.dir, pinFile)
	info, err := os.Stat(path)
	if errors.Is(err, os.ErrNotExist) {
		g.pin, g.pinSeen = pin{}, stamp{}
		return nil
	}
	if err != nil {
		return fmt.Errorf("cannot read the PIN's file: %w", err)
	}
	seen := stamp{info.Size(), info.ModTime()}
	if seen == g.pinSeen {
		return nil
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return fmt.Errorf("cannot read the PIN's file: %w", err)
	}
	p, err := parsePIN(string(text))
	if err != nil {
		return fmt.Errorf("cannot use the PIN's file %s: %w; draw a new one with: headroom pin new", path, err)
	}
	g.pin, g.pinSeen = p, seen
	return nil
}

// HasPIN reports whether a PIN was drawn.
func (g *Gate) HasPIN() bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.reload() == nil && g.pin.set()
}

// Enter takes a PIN from an address and returns the token of a new session.
// The error is ErrNoPIN, ErrWrong, a *WaitError, the context's, or that the
// PIN's file can't be read.
func (g *Gate) Enter(ctx context.Context, from netip.Addr, typed string) (token string, err error) {
	// The turn comes first, so that of many at once each sees the others' tries.
	select {
	case g.hashing <- struct{}{}:
		defer func() { <-g.hashing }()
	case <-ctx.Done():
		return "", ctx.Err()
	}
	p, err := g.admit(from)
	if err != nil {
		return "", err
	}
	right := p.is(typed)
	g.mu.Lock()
	defer g.mu.Unlock()
	if !right {
		g.limit.wrong(from, g.mono())
		return "", ErrWrong
	}
	g.limit.right(from)
	if token, err = g.sessions.add(p, g.now()); err != nil {
		return "", err
	}
	// With a full disk the owner must still get in: a session that can't be
	// kept lasts until the restart.
	_ = g.keepSessions()
	return token, nil
}

// admit returns the PIN to compare with, unless the address must wait.
func (g *Gate) admit(from netip.Addr) (pin, error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if err := g.reload(); err != nil {
		return pin{}, err
	}
	if !g.pin.set() {
		return pin{}, ErrNoPIN
	}
	if wait := g.limit.wait(from, g.mono()); wait > 0 {
		return pin{}, &WaitError{wait}
	}
	return g.pin, nil
}

// Knows reports whether a token is that of a session under the present PIN.
func (g *Gate) Knows(token string) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.reload() != nil || !g.pin.set() {
		return false
	}
	known, keep := g.sessions.use(g.pin, token, g.now())
	if keep {
		// A session's age that isn't kept only ends it sooner.
		_ = g.keepSessions()
	}
	return known
}

// Leave ends the session of a token. Where it was none, nothing is written:
// anybody may ask, and a card bears only so many writes.
func (g *Gate) Leave(token string) error {
	g.mu.Lock()
	defer g.mu.Unlock()
	if !g.sessions.drop(token) {
		return nil
	}
	return g.keepSessions()
}

// LeaveAll ends every session, as after a phone was lost.
func (g *Gate) LeaveAll() error {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.sessions = sessions{}
	return g.keepSessions()
}

func (g *Gate) keepSessions() error {
	return g.sessions.write(filepath.Join(g.dir, sessionFile))
}
