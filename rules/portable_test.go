// Package rules_test guards what holds for everything below rules/: it is pure
// and computes the same bits on every processor.
package rules_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// portable are the functions of package math that are exact everywhere. The
// others may be assembly on one processor and differ in the last bit.
var portable = map[string]bool{
	"Sqrt": true, "Abs": true, "Floor": true, "Ceil": true, "Trunc": true, "Round": true, "Min": true, "Max": true,
	"IsNaN": true, "IsInf": true, "NaN": true, "Inf": true, "Signbit": true, "Copysign": true,
	"Float64bits": true, "Float64frombits": true, "Frexp": true, "Ldexp": true, "Modf": true,
	"Pi": true, "Sqrt2": true, "Ln2": true, "E": true, "MaxFloat64": true, "SmallestNonzeroFloat64": true,
	"MaxInt64": true, "MinInt64": true, "MaxInt": true, "MaxInt32": true, "MaxUint8": true, "MaxUint16": true, "MaxUint32": true, "MaxUint64": true,
}

// pure are the standard packages that packages below rules/ may import.
var pure = map[string]bool{
	"math": true, "time": true, "fmt": true, "errors": true, "strconv": true, "strings": true, "cmp": true, "slices": true, "sort": true, "math/bits": true,
	"encoding/binary": true, "embed": true, "testing": true,
}

func sources(t *testing.T) map[string]*ast.File {
	files := map[string]*ast.File{}
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		files[path] = f
		return err
	})
	require.NoError(t, err)
	require.NotEmpty(t, files)
	return files
}

func TestOnlyPureImports(t *testing.T) {
	for path, f := range sources(t) {
		for _, im := range f.Imports {
			name, err := strconv.Unquote(im.Path.Value)
			require.NoError(t, err)
			if !pure[name] && !strings.HasPrefix(name, "headroom/rules/") {
				t.Errorf("%s imports %s: packages under rules/ are pure physics and judgement; move the I/O to daemon/ or sensors/", path, name)
			}
		}
	}
}

func TestOnlyPortableMath(t *testing.T) {
	for path, f := range sources(t) {
		ast.Inspect(f, func(n ast.Node) bool {
			sel, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			if pkg, ok := sel.X.(*ast.Ident); ok && pkg.Name == "math" && pkg.Obj == nil && !portable[sel.Sel.Name] {
				t.Errorf("%s uses math.%s, which may differ in the last bit between processors: use rules/detmath", path, sel.Sel.Name)
			}
			if pkg, ok := sel.X.(*ast.Ident); ok && pkg.Name == "time" && pkg.Obj == nil {
				switch sel.Sel.Name {
				case "Now", "Since", "Until", "Sleep", "After", "NewTimer", "NewTicker", "Tick", "AfterFunc":
					t.Errorf("%s uses time.%s: packages under rules/ read no clock; take the time as an argument", path, sel.Sel.Name)
				}
			}
			return true
		})
	}
}

func TestNoGoroutinesAndNoMapRange(t *testing.T) {
	for path, f := range sources(t) {
		ast.Inspect(f, func(n ast.Node) bool {
			switch n.(type) {
			case *ast.GoStmt, *ast.SelectStmt, *ast.ChanType:
				t.Errorf("%s starts a goroutine or uses a channel: packages under rules/ are plain functions", path)
			case *ast.MapType:
				t.Errorf("%s uses a map, whose order is random: use an array or a sorted slice", path)
			}
			return true
		})
	}
}

// fused matches arm64's fused multiply-add, which rounds once where amd64
// rounds twice.
var fused = regexp.MustCompile(`\bFN?M(ADD|SUB)[SD]\b`)

// The compiler may fuse x*y+z on arm64 unless the product is wrapped in
// float64(). One such place is enough to make a replay on the office's amd64
// differ from the trailer's arm64.
func TestNoFusedMultiplyAddOnArm64(t *testing.T) {
	cmd := exec.Command("go", "build", "-gcflags=-S", "./...")
	cmd.Env = append(os.Environ(), "GOARCH=arm64", "CGO_ENABLED=0", "GOFLAGS=")
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "cannot build rules/ for arm64")
	require.Contains(t, string(out), "FMULD", "no arm64 listing to look at")
	place := regexp.MustCompile(`\(([^()]*\.go:\d+)\)`)
	seen := map[string]bool{}
	for line := range strings.Lines(string(out)) {
		if !fused.MatchString(line) {
			continue
		}
		if m := place.FindStringSubmatch(line); m != nil && !seen[m[1]] {
			seen[m[1]] = true
			t.Errorf("%s: wrap the product in float64(), it is fused on arm64", m[1])
		}
	}
}
