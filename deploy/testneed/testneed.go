// Package testneed lets a test say what it needs from outside the checkout: a
// program, a Python module, a folder of public recordings. Where that is
// missing the test skips with a line that says what to install; where the
// environment variable HEADROOM_REQUIRE is 1, as in CI, the same lack is a
// failure, so that a skip can never pass for a green run.
package testneed

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// Required is the variable that turns a skip into a failure.
const Required = "HEADROOM_REQUIRE"

// Program returns the full path of the first of names found on the PATH.
func Program(t testing.TB, debianPackage string, names ...string) string {
	t.Helper()
	for _, n := range names {
		if p, err := exec.LookPath(n); err == nil {
			return p
		}
	}
	Missing(t, "needs the program "+names[0]+" (Debian package "+debianPackage+")")
	return ""
}

// Shared returns the path of elem inside the folder shared/ that stands beside
// the checkout. It holds reference data for tests only and is never shipped.
func Shared(t testing.TB, elem ...string) string {
	t.Helper()
	p := filepath.Join(append([]string{Root(t), "..", "shared"}, elem...)...)
	if _, err := os.Stat(p); err != nil {
		Missing(t, "needs ../shared/"+filepath.Join(elem...)+", which is not part of the project")
	}
	return p
}

// Root returns the checkout's root, found by its go.mod.
func Root(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatalf("cannot find the working folder: %v", err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("cannot find go.mod above the test's folder")
		}
		dir = up
	}
}

// Missing skips the test, or fails it where skips are forbidden.
func Missing(t testing.TB, what string) {
	t.Helper()
	if os.Getenv(Required) == "1" {
		t.Fatalf("%s, and %s=1 forbids skipping", what, Required)
	}
	t.Skipf("skipped: %s", what)
}
