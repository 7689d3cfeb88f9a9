//go:build install

package install

import (
	"crypto/sha256"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
)

// TestReproducible builds the same source in two folders. In the long form the
// second one has an empty cache, so that nothing of the first build is reused.
func TestReproducible(t *testing.T) {
	first := built(t, older)
	other := filepath.Join(t.TempDir(), "another", "place")
	require.NoError(t, os.MkdirAll(other, 0o755))
	copyCheckout(t, testneed.Root(t), other)
	env := []string{"TZ=Pacific/Auckland", "LC_ALL=C"}
	if *long {
		env = append(env, "GOCACHE="+t.TempDir())
	}
	second := packed(t, other, older, "amd64", t.TempDir(), env...)
	require.Equal(t, sum(t, first), sum(t, second))
	third := packed(t, other, newer, "amd64", t.TempDir())
	require.NotEqual(t, sum(t, first), sum(t, third), "another version is another package")
}

// maxProgram is the largest that the program may become, and maxPackage what is
// sent to a board. The aim for the program was 20 MB; the Parquet library and
// its codecs cost 6 MB of it and are worth that on the board too, where the
// record is exported. It was 26.9 MB when the limit was 27.
const maxProgram, maxPackage = 28e6, 9e6

func sum(t *testing.T, path string) [32]byte {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	return sha256.Sum256(text)
}

func copyCheckout(t *testing.T, from, to string) {
	t.Helper()
	pack := exec.Command("tar", "-C", from, "--exclude=./.git", "-cf", "-", ".")
	unpack := exec.Command("tar", "-C", to, "-xf", "-")
	var err error
	unpack.Stdin, err = pack.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, unpack.Start())
	require.NoError(t, pack.Run())
	require.NoError(t, unpack.Wait())
}

// TestEveryProcessor builds the package of each, holds it against Debian's own
// checker, and runs its program.
func TestEveryProcessor(t *testing.T) {
	lintian := testneed.Program(t, "lintian", "lintian")
	for _, c := range []struct{ arch, emulator, says string }{
		{"arm64", "qemu-aarch64-static", "linux/arm64"},
		{"armhf", "qemu-arm-static", "linux/arm"},
		{"amd64", "", "linux/amd64"},
	} {
		t.Run(c.arch, func(t *testing.T) {
			dir := t.TempDir()
			deb := packed(t, testneed.Root(t), older, c.arch, dir)
			info, err := os.Stat(deb)
			require.NoError(t, err)
			out, err := exec.Command(lintian, "--no-user-dirs", "--allow-root", "--fail-on", "error,warning", deb).CombinedOutput()
			require.NoError(t, err, "%s", out)
			tree := filepath.Join(dir, "tree")
			out, err = exec.Command("dpkg-deb", "-x", deb, tree).CombinedOutput()
			require.NoError(t, err, "%s", out)
			program := filepath.Join(tree, "usr", "bin", "headroom")
			binary, err := os.Stat(program)
			require.NoError(t, err)
			t.Logf("package %.1f MB, program %.1f MB", float64(info.Size())/1e6, float64(binary.Size())/1e6)
			if c.arch == "arm64" { // what most boards are
				require.LessOrEqual(t, binary.Size(), int64(maxProgram))
				require.LessOrEqual(t, info.Size(), int64(maxPackage), "an update over a phone's link")
			}
			args := []string{program, "version"}
			if c.emulator != "" {
				args = append([]string{testneed.Program(t, "qemu-user-static", c.emulator)}, args...)
			}
			cmd := exec.Command(args[0], args[1:]...)
			if c.arch == "armhf" {
				cmd.Env = append(os.Environ(), "QEMU_CPU=arm1176") // an ARMv6 that knows nothing newer
			}
			out, err = cmd.CombinedOutput()
			require.NoError(t, err, "%s", out)
			require.Equal(t, "headroom "+older, strings.Join(strings.Fields(string(out))[:2], " "))
			require.Contains(t, string(out), c.says)
		})
	}
}
