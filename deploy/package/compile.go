package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"time"
)

// compile builds the program for one processor and returns its bytes.
func (s *source) compile(ctx context.Context, a architecture, out string) ([]byte, error) {
	// No path, no build id, no state of a version control: only the source
	// shall decide.
	cmd := s.goTool(ctx, a.env, "build", "-trimpath", "-buildvcs=false",
		// The database and the metrics' wire format are the largest parts and
		// none of the tick; without inlining they take half a megabyte less.
		"-gcflags=modernc.org/...=-l", "-gcflags=google.golang.org/...=-l",
		"-ldflags", "-s -w -buildid= -X main.version="+s.version, "-o", out, "./daemon")
	if text, err := cmd.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("cannot compile: %w: %s", err, text)
	}
	return os.ReadFile(out)
}

// goTool runs go at the checkout's root, whatever the builder's own settings.
func (s *source) goTool(ctx context.Context, env []string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, "go", args...)
	cmd.Dir = s.root
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS=linux", "GOFLAGS=-mod=readonly", "GOEXPERIMENT=", "GOWORK=off")
	cmd.Env = append(cmd.Env, env...)
	return cmd
}

// pages lets the program, built for this machine, write its manual and its
// completions.
func (s *source) pages(ctx context.Context, t *tree, work string) error {
	program := filepath.Join(work, "native")
	if _, err := s.compile(ctx, architecture{env: []string{"GOOS=" + runtime.GOOS, "GOARCH=" + runtime.GOARCH}}, program); err != nil {
		return err
	}
	docs := filepath.Join(work, "docs")
	cmd := exec.CommandContext(ctx, program, "docs", "-date", s.date.Format(time.DateOnly), docs)
	if text, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("cannot write the manual: %w: %s", err, text)
	}
	for _, w := range written {
		text, err := os.ReadFile(filepath.Join(docs, filepath.FromSlash(w.from)))
		if err != nil {
			return err
		}
		put := func() error { return t.file(w.to, 0o644, text) }
		if w.zip {
			put = func() error { return t.zipped(w.to, text) }
		}
		if err := put(); err != nil {
			return err
		}
	}
	return nil
}
