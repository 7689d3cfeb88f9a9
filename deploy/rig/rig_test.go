//go:build rig

package rig

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var (
	long     = flag.Bool("long", false, "run the long form of each suite")
	everyRow = flag.Bool("lines", false, "print every line from the guest")
)

// imageFolders are what TestMain removes.
var imageFolders []string

// built is an image and the kernel it belongs to.
type built struct{ kernel, file string }

// image builds each image once for all suites, on first use.
func image(c Contents) func() (built, error) {
	return sync.OnceValues(func() (b built, err error) {
		root, err := filepath.Abs(filepath.Join("..", ".."))
		if err != nil {
			return b, err
		}
		if b.kernel, err = Prepare(root); err != nil {
			return b, err
		}
		folder, err := os.MkdirTemp("", "rig")
		if err != nil {
			return b, err
		}
		imageFolders, b.file = append(imageFolders, folder), filepath.Join(folder, "image")
		return b, BuildImage(root, b.kernel, b.file, c)
	})
}

// probeImage runs drivers one by one.
var probeImage = image(Contents{Programs: []Program{{Package: "headroom/deploy/rig/probe", Path: "/probe", Tags: "rig"}}})

func TestMain(m *testing.M) {
	flag.Parse()
	code := m.Run()
	for _, f := range imageFolders {
		os.RemoveAll(f)
	}
	os.Exit(code)
}

// guest is a machine whose every surprise fails the test.
type guest struct {
	*Machine
	t testing.TB
}

// boot starts a machine for one suite; at the test's end it must end well.
func boot(t *testing.T) *guest { return bootWith(t, Options{}) }

// bootWith starts the probe's machine.
func bootWith(t *testing.T, o Options) *guest {
	t.Helper()
	return bootImage(t, probeImage, o)
}

// bootImage fills in what every machine has.
func bootImage(t *testing.T, image func() (built, error), o Options) *guest {
	t.Helper()
	b, err := image()
	require.NoError(t, err)
	o.Kernel, o.Image, o.Folder = b.kernel, b.file, shortFolder(t)
	if heard := o.Log; *everyRow {
		o.Log = func(l string) {
			fmt.Println("   ", l)
			if heard != nil {
				heard(l)
			}
		}
	}
	begin := time.Now()
	m, err := Boot(o)
	require.NoError(t, err)
	t.Logf("booted in %.1f s", time.Since(begin).Seconds())
	g := &guest{m, t}
	t.Cleanup(g.leave)
	return g
}

// leave kills the machine; of a failed test it first prints what hangs where.
func (g *guest) leave() {
	if g.t.Failed() {
		g.Drop()
		if _, err := g.Do("guest dump"); err == nil {
			_, _ = g.Wait(2*time.Second, "no line", func(l Line) bool { g.t.Log(l.Text); return false })
		}
	}
	g.Kill()
	if g.t.Failed() {
		g.t.Logf("console:\n%s", g.Console())
	}
}

// shortFolder is a folder for sockets, whose paths have little room; t.TempDir
// grows with the test's name.
func shortFolder(t *testing.T) string {
	folder, err := os.MkdirTemp("", "rig")
	require.NoError(t, err)
	t.Cleanup(func() { os.RemoveAll(folder) })
	return folder
}

// do runs a command that must succeed.
func (g *guest) do(format string, args ...any) string {
	g.t.Helper()
	l, err := g.Do(format, args...)
	require.NoError(g.t, err)
	return l.Text
}

// reply waits for the result of a command that was sent before.
func (g *guest) reply() string {
	g.t.Helper()
	l, err := g.Reply("a command sent before")
	require.NoError(g.t, err)
	return l.Text
}

// say waits for a program's line that holds all these words.
func (g *guest) say(limit time.Duration, words ...string) Line {
	g.t.Helper()
	l, err := g.Wait(limit, strings.Join(words, " "), func(l Line) bool {
		for _, w := range words {
			if !strings.Contains(" "+l.Text+" ", w) {
				return false
			}
		}
		return l.Kind == "out" || l.Kind == "exit" || l.Kind == "note"
	})
	require.NoError(g.t, err)
	return l
}

// program runs a program to its end and returns its lines.
func (g *guest) program(limit time.Duration, name, argv string) (lines []string) {
	g.t.Helper()
	g.Drop()
	g.do("child start %s 0 %s", name, argv)
	end, err := g.Wait(limit, "the end of "+argv, func(l Line) bool {
		if text, ours := strings.CutPrefix(l.Text, name+" "); ours && l.Kind == "out" {
			lines = append(lines, text)
		}
		return l.Kind == "exit" && strings.HasPrefix(l.Text, name+" ")
	})
	require.NoError(g.t, err)
	require.Equal(g.t, name+" exit status 0", end.Text, "%s", strings.Join(lines, "\n"))
	return lines
}

// end ends the run; only then it has passed.
func (g *guest) end() {
	g.t.Helper()
	require.NoError(g.t, g.End())
}
