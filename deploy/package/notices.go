package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
)

// terms are the names of files with terms.
var terms = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice|copyright|patents)([.-].*)?$`)

// notices are the licences of every library in the program, with their texts:
// most of them ask that a copy goes with the binary. A library without one is
// an error.
func (s *source) notices(ctx context.Context, a architecture) ([]byte, error) {
	const form = `{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}}{{"\t"}}{{.Dir}}{{"\t"}}{{$.Dir}}{{end}}{{end}}`
	out, err := s.goTool(ctx, a.env, "list", "-deps", "-f", form, "./daemon").Output()
	if err != nil {
		return nil, fmt.Errorf("cannot list the libraries: %w", withStderr(err))
	}
	files := map[string]map[string]string{}
	for line := range strings.Lines(string(out)) {
		part := strings.Split(strings.TrimSpace(line), "\t")
		if len(part) != 3 {
			continue
		}
		if files[part[0]] == nil {
			files[part[0]] = map[string]string{}
		}
		if err := termsOf(part[1], part[2], files[part[0]]); err != nil {
			return nil, err
		}
	}
	files["Go's standard library "+runtime.Version()] = map[string]string{"LICENSE": filepath.Join(s.goRoot(ctx), "LICENSE")}
	return concatenated(files)
}

// termsOf finds the files with terms from a package's folder up to its module.
func termsOf(module, folder string, found map[string]string) error {
	for dir := folder; ; dir = filepath.Dir(dir) {
		entries, err := os.ReadDir(dir)
		if err != nil {
			return err
		}
		for _, e := range entries {
			if e.Type().IsRegular() && terms.MatchString(e.Name()) && !strings.HasSuffix(e.Name(), ".go") {
				full := filepath.Join(dir, e.Name())
				name, err := filepath.Rel(module, full)
				if err != nil {
					return err
				}
				found[filepath.ToSlash(name)] = full
			}
		}
		if dir == module || dir == filepath.Dir(dir) {
			return nil
		}
	}
}

func concatenated(files map[string]map[string]string) ([]byte, error) {
	var b bytes.Buffer
	b.WriteString("Licences of the libraries in headroom, each with its module and version.\n")
	for _, module := range sortedKeys(files) {
		if len(files[module]) == 0 {
			return nil, fmt.Errorf("%s has no licence; a package can't contain it", module)
		}
		for _, name := range sortedKeys(files[module]) {
			text, err := os.ReadFile(files[module][name])
			if err != nil {
				return nil, fmt.Errorf("cannot read a licence: %w", err)
			}
			fmt.Fprintf(&b, "\n%s\n%s: %s\n\n%s\n", strings.Repeat("=", 78), module, name, bytes.TrimSpace(text))
		}
	}
	return b.Bytes(), nil
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

func (s *source) goRoot(ctx context.Context) string {
	out, _ := s.goTool(ctx, nil, "env", "GOROOT").Output() // an empty one is told when the file isn't found
	return strings.TrimSpace(string(out))
}

func withStderr(err error) error {
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return fmt.Errorf("%w: %s", err, bytes.TrimSpace(exit.Stderr))
	}
	return err
}
