//go:build install

package install

import (
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
)

var long = flag.Bool("long", false, "the long form: a machine with systemd, builds without a cache")

// epoch is the date of the packages here; any would do.
const epoch = "1772359200"

// The versions of a life.
const older, newer = "1.0", "1.1"

// packed builds a package, and returns its path.
func packed(t *testing.T, checkout, version, arch, out string, env ...string) string {
	t.Helper()
	testneed.Program(t, "dpkg", "dpkg-deb")
	cmd := exec.Command("go", "run", "./deploy/package", "-version", version, "-arch", arch, "-o", out)
	cmd.Dir = checkout
	cmd.Env = append(append(os.Environ(), "SOURCE_DATE_EPOCH="+epoch), env...)
	text, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s", text)
	return filepath.Join(out, "headroom_"+version+"_"+arch+".deb")
}

// onceBuilt are this machine's packages in both versions, built once.
var onceBuilt struct {
	sync.Mutex
	folder string
}

func TestMain(m *testing.M) {
	flag.Parse()
	code := m.Run()
	if onceBuilt.folder != "" {
		_ = os.RemoveAll(onceBuilt.folder)
	}
	os.Exit(code)
}

// built is this machine's package in one version.
func built(t *testing.T, version string) string {
	t.Helper()
	onceBuilt.Lock()
	defer onceBuilt.Unlock()
	if onceBuilt.folder == "" {
		dir, err := os.MkdirTemp("", "headroom-built-")
		require.NoError(t, err)
		onceBuilt.folder = dir
	}
	path := filepath.Join(onceBuilt.folder, "headroom_"+version+"_amd64.deb")
	if _, err := os.Stat(path); err == nil {
		return path
	}
	return packed(t, testneed.Root(t), version, "amd64", onceBuilt.folder)
}

// root is a bare Debian in a folder.
type root struct {
	t   *testing.T
	dir string
}

func newRoot(t *testing.T) *root {
	t.Helper()
	if os.Getuid() != 0 {
		testneed.Missing(t, "needs root, for a chroot")
	}
	out, err := exec.Command("./prepare.sh").Output()
	if err != nil {
		testneed.Missing(t, "needs a bare Debian, which deploy/install/prepare.sh can't make")
	}
	r := &root{t: t, dir: t.TempDir()}
	text, err := exec.Command("tar", "-C", r.dir, "--numeric-owner", "-xf", strings.TrimSpace(string(out))).CombinedOutput()
	require.NoError(t, err, "%s", text)
	return r
}

// command runs a program inside. Its /proc is mounted for it alone, so that
// nothing is left to unmount. user is empty for root.
func (r *root) command(user string, args ...string) *exec.Cmd {
	as := "root:root"
	if user != "" {
		as = user + ":" + user
	}
	const inside = `mount -t proc proc "$0/proc" && exec env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin LC_ALL=C DEBIAN_FRONTEND=noninteractive chroot --userspec="$1" "$0" "${@:2}"`
	return exec.Command("unshare", append([]string{"--mount", "bash", "-c", inside, r.dir, as}, args...)...)
}

// try runs a program inside and returns what it said.
func (r *root) try(args ...string) (string, error) {
	out, err := r.command("", args...).CombinedOutput()
	return string(out), err
}

func (r *root) do(args ...string) string {
	r.t.Helper()
	out, err := r.try(args...)
	require.NoError(r.t, err, "%s: %s", strings.Join(args, " "), out)
	return out
}

// bring copies a package inside.
func (r *root) bring(deb string) (path string) {
	r.t.Helper()
	text, err := os.ReadFile(deb)
	require.NoError(r.t, err)
	path = "/tmp/" + filepath.Base(deb)
	require.NoError(r.t, os.WriteFile(r.path(path), text, 0o644))
	return path
}

func (r *root) path(inside string) string { return filepath.Join(r.dir, inside) }

func (r *root) read(inside string) string {
	r.t.Helper()
	text, err := os.ReadFile(r.path(inside))
	require.NoError(r.t, err)
	return string(text)
}

func (r *root) write(inside, text string) {
	r.t.Helper()
	require.NoError(r.t, os.WriteFile(r.path(inside), []byte(text), 0o644))
}

// status is dpkg's word on the package, with its version.
func (r *root) status() string {
	out, err := r.try("dpkg-query", "-W", "-f", "${db:Status-Abbrev}${Version}", "headroom")
	if err != nil {
		return "unknown"
	}
	return strings.Join(strings.Fields(out), " ")
}

// took logs how long a step lasted.
func took(t *testing.T, what string) func() {
	begin := time.Now()
	return func() { t.Logf("%s: %.1f s", what, time.Since(begin).Seconds()) }
}
