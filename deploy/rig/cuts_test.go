//go:build rig

package rig

import (
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/rig/nbd"
)

// recorderImage records an invented job through daemon/store.
var recorderImage = image(Contents{Programs: []Program{{Package: "headroom/deploy/rig/recorder", Path: "/recorder", Tags: "rig"}}})

// counts are what a boot of the record holds, or is known to hold.
type counts struct{ frames, events, acts int }

// ledger is what the guest has said to be safe, boot by boot.
type ledger struct {
	mu   sync.Mutex
	safe map[uint64]counts
	// other is the recorder's last line that says nothing of safety.
	other string
	// gap is the most frames between two words of safety in one boot.
	gap int
	// heard is called at each word of safety, with the ledger as it then is.
	heard func(map[uint64]counts)
}

// begin forgets what was said: from here on it is said of another disk.
func (l *ledger) begin(heard func(map[uint64]counts)) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.safe, l.heard = map[uint64]counts{}, heard
}

// hear takes a line of the guest as it arrives.
func (l *ledger) hear(line string) {
	var up float64
	var boot uint64
	var c counts
	n, _ := fmt.Sscanf(line, "%f out rec safe %d %d %d %d", &up, &boot, &c.frames, &c.events, &c.acts)
	l.mu.Lock()
	if n != 5 {
		if strings.Contains(line, " rec ") {
			l.other = line
		}
		l.mu.Unlock()
		return
	}
	l.gap = max(l.gap, c.frames-l.safe[boot].frames)
	l.safe[boot] = c
	heard, now := l.heard, l.copied()
	l.mu.Unlock()
	if heard != nil {
		heard(now)
	}
}

func (l *ledger) copied() map[uint64]counts { return maps.Clone(l.safe) }

// lastWords is what the recorder said last beside what is safe, for a failure.
func (l *ledger) lastWords() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.other
}

func (l *ledger) now() map[uint64]counts {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.copied()
}

// picture is a disk after a cut, and what had been said to be safe before it.
type picture struct {
	nbd.Outcome
	safe map[uint64]counts
}

// card is a disk with a file system and the socket that serves it.
type card struct {
	disk   *nbd.Disk
	socket string
}

const cardBytes = 24 << 20

// freshCard is an empty file system, made by the distribution's own tool.
func freshCard(t *testing.T) []byte {
	t.Helper()
	file := filepath.Join(t.TempDir(), "card")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	require.NoError(t, os.Truncate(file, cardBytes))
	out, err := tool("mkfs.ext4", "-q", "-F", "-b", "4096", "-J", "size=4", "-E", "lazy_itable_init=0,lazy_journal_init=0", file)
	require.NoError(t, err, "%s", out)
	content, err := os.ReadFile(file)
	require.NoError(t, err)
	return content
}

func insert(t *testing.T, content []byte, seed uint64) *card {
	t.Helper()
	c := &card{nbd.NewDisk(content, seed, nbd.Faults{}), filepath.Join(shortFolder(t), "disk.sock")}
	l, err := net.Listen("unix", c.socket)
	require.NoError(t, err)
	t.Cleanup(func() { l.Close() })
	go func() { _ = nbd.Listen(l, c.disk) }()
	return c
}

// found is what the recorder found in a record.
type found struct {
	boots map[uint64]counts
	// last and gap are of the frames of a boot, notes what is told by name;
	// only of a record of the daemon's.
	last, gap map[uint64]time.Duration
	notes     []string
	wrong     []string
	// mended is what it took to mount the file system; empty for nothing.
	mended string
}

// check puts a disk in and lets the guest's kernel and the recorder open it. An
// error means that not even that could be done.
func (g *guest) check(c *card, image []byte, from uint64) (f found, err error) {
	return g.opened(c, image, fmt.Sprintf("check /data/record %d", from))
}

// opened puts a disk in and runs the recorder on it.
func (g *guest) opened(c *card, image []byte, words string) (f found, err error) {
	g.t.Helper()
	if f.mended, err = g.mount(c, image); err != nil {
		return f, err
	}
	f.boots, f.last, f.gap = map[uint64]counts{}, map[uint64]time.Duration{}, map[uint64]time.Duration{}
	g.Drop()
	g.do("child start check 0 /recorder %s", words)
	end, err := g.Wait(2*time.Minute, "the end of the check", func(l Line) bool {
		f.hear(strings.TrimPrefix(l.Text, "check "))
		return l.Kind == "exit" && strings.HasPrefix(l.Text, "check ")
	})
	if err == nil && end.Text != "check exit status 0" {
		err = fmt.Errorf("%s: %s", end.Text, strings.Join(f.wrong, "; "))
	}
	g.do("disk umount")
	return f, err
}

// mount puts a disk in and mounts it, mended if it must be.
func (g *guest) mount(c *card, image []byte) (mended string, err error) {
	g.t.Helper()
	c.disk.Insert(image)
	if _, err := g.Do("disk mount"); err == nil {
		return "", nil
	}
	if mended, image, err = mend(g.t, image); err != nil {
		return "", err
	}
	c.disk.Insert(image)
	g.do("disk mount")
	return mended, nil
}

// mend does what a board's start does before it mounts: e2fsck, by itself as
// far as it dares (-p), and else as with fsck.repair=yes on the kernel's
// command line (-y).
func mend(t testing.TB, image []byte) (words string, mended []byte, err error) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "card")
	require.NoError(t, os.WriteFile(file, image, 0o600))
	for _, how := range []string{"-p", "-y"} {
		out, err := tool("e2fsck", how, file)
		// Exit status 1: errors were corrected. Source: e2fsck(8).
		var exit *exec.ExitError
		if err == nil || errors.As(err, &exit) && exit.ExitCode() == 1 {
			mended, err := os.ReadFile(file)
			return "e2fsck " + how, mended, err
		}
		t.Logf("e2fsck %s: %v\n%s", how, err, out)
	}
	return "", nil, errors.New("no e2fsck can mend the file system")
}

// tool runs a program of e2fsprogs.
func tool(name string, args ...string) ([]byte, error) {
	for _, folder := range []string{"", "/usr/sbin/", "/sbin/"} {
		if path, err := exec.LookPath(folder + name); err == nil {
			return exec.Command(path, args...).CombinedOutput()
		}
	}
	return nil, fmt.Errorf("%s is missing: Debian package e2fsprogs", name)
}

func (f *found) hear(line string) {
	var boot uint64
	var c counts
	if n, _ := fmt.Sscanf(line, "boot %d %d %d %d", &boot, &c.frames, &c.events, &c.acts); n == 4 {
		f.boots[boot] = c
	}
	var ms int64
	if n, _ := fmt.Sscanf(line, "last %d %d", &boot, &ms); n == 2 {
		f.last[boot] = time.Duration(ms) * time.Millisecond
	}
	if n, _ := fmt.Sscanf(line, "gap %d %d", &boot, &ms); n == 2 {
		f.gap[boot] = time.Duration(ms) * time.Millisecond
	}
	switch word, _, _ := strings.Cut(line, " "); word {
	case "wrong", "failed":
		f.wrong = append(f.wrong, line)
	case "act", "event":
		f.notes = append(f.notes, line)
	}
}

// lost names what was said to be safe and isn't there, and what of an earlier
// boot isn't as it was found before; empty when all is well.
func (f *found) lost(safe, before map[uint64]counts) string {
	var all []string
	all = append(all, f.wrong...)
	for b, s := range safe {
		if h := f.boots[b]; h.frames < s.frames || h.events < s.events || h.acts < s.acts {
			all = append(all, fmt.Sprintf("boot %d: safe were %+v, found %+v", b, s, h))
		}
	}
	for b, was := range before {
		if f.boots[b] != was {
			all = append(all, fmt.Sprintf("boot %d: was %+v, is %+v", b, was, f.boots[b]))
		}
	}
	return strings.Join(all, "; ")
}

// instants are n of the next so many, in order; half of them in the first
// tenth, when the record is opened or made.
func instants(r *rand.Rand, now, n, span int) []int {
	out := make([]int, n)
	for i := range out {
		within := span
		if i%2 == 0 {
			within = span / 10
		}
		out[i] = now + 1 + r.IntN(within)
	}
	slices.Sort(out)
	return out
}
