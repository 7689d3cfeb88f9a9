package physics_test

import (
	"flag"
	"go/build"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/rules/check"
	"headroom/rules/check/checktest"
	"headroom/rules/physics"
)

var update = flag.Bool("update", false, "write rules/PHYSICS.md anew")

const page = "../PHYSICS.md"

// The page that people read says what the tests of this very tree say.
func TestPageIsCurrent(t *testing.T) {
	if *update {
		require.NoError(t, os.WriteFile(page, []byte(physics.Document()), 0o644))
	}
	got, err := os.ReadFile(page)
	require.NoError(t, err, "write it with: go test ./rules/physics -update")
	if string(got) != physics.Document() {
		t.Fatal("rules/PHYSICS.md is not current; write it anew with: go test ./rules/physics -update")
	}
}

func TestEveryQuantityPasses(t *testing.T) {
	for _, s := range physics.All() {
		t.Run(s.Package, func(t *testing.T) { checktest.Run(t, s.Quantities) })
	}
}

// A package with Checks that isn't in the document would be a silent hole.
func TestNoPackageIsMissing(t *testing.T) {
	in := map[string]bool{}
	for _, s := range physics.All() {
		in[s.Package] = true
		require.NotEmpty(t, s.Title)
		require.Len(t, strings.SplitAfter(strings.TrimSuffix(s.About, "."), ". "), 2, "%s: two sentences", s.Package)
		require.NotEmpty(t, s.NotModelled, s.Package)
	}
	err := filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || !strings.HasPrefix(d.Name(), "checks") || !strings.HasSuffix(d.Name(), ".go") || strings.HasSuffix(d.Name(), "_test.go") {
			return err
		}
		folder := "rules/" + filepath.ToSlash(filepath.Dir(strings.TrimPrefix(path, "../")))
		require.True(t, in[folder], "%s has checks and no section: add it to All", folder)
		return nil
	})
	require.NoError(t, err)
}

// The function that a quantity names exists and belongs to the package it
// stands in, so that a reader finds it.
func TestFunctionsAreNamedWithTheirPackage(t *testing.T) {
	for _, s := range physics.All() {
		name := filepath.Base(s.Package)
		dir, err := build.ImportDir(filepath.Join("../..", s.Package), 0)
		require.NoError(t, err)
		source := ""
		for _, f := range dir.GoFiles {
			text, err := os.ReadFile(filepath.Join(dir.Dir, f))
			require.NoError(t, err)
			source += string(text)
		}
		for _, q := range s.Quantities {
			require.True(t, strings.HasPrefix(q.Func, name+"."), "%s: %s", s.Package, q.Func)
			parts := strings.Split(strings.Fields(q.Func)[0], ".")
			last := parts[len(parts)-1]
			declared := strings.Contains(source, "func "+last+"(") || strings.Contains(source, ") "+last+"(") ||
				strings.Contains(source, "\t"+last) || strings.Contains(source, last+" = ")
			require.True(t, declared, "%s: no %s in %s", s.Package, q.Func, dir.Dir)
		}
	}
}

func TestTightestAndStrongest(t *testing.T) {
	q := &check.Quantity{Tol: 0.1, Cases: []check.Case{
		{Name: "loose", Want: 1, Got: 1.05, Origin: check.Memory},
		{Name: "tight", Want: 1, Got: 1.001, Tol: 0.0011, Origin: check.Arithmetic},
	}}
	at, share := physics.Tightest(q)
	require.Equal(t, "tight", at.Name)
	require.InDelta(t, 0.909, share, 1e-3)
	_, worst := q.Worst()
	require.Equal(t, "loose", worst.Name)
	require.EqualValues(t, 4, physics.Strongest(q), "memory stands before arithmetic")
	require.EqualValues(t, 0, physics.Strongest(&check.Quantity{}))
}

func TestDocumentIsDeterministic(t *testing.T) {
	require.Equal(t, physics.Document(), physics.Document())
	for _, part := range []string{"Antifreeze", "## Summary", "Common practice, no source", "Quoted from memory", "no certified safety device"} {
		require.Contains(t, physics.Document(), part)
	}
}
