package rig

import (
	"bytes"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
)

// Program is a Go program to put into the guest.
type Program struct {
	// Package is its import path, Path its place in the guest.
	Package, Path string
	// Tags are build tags, separated by commas.
	Tags string
}

// Contents is what goes into the guest beside its init and the modules.
type Contents struct {
	// Programs are built and placed.
	Programs []Program
	// Files are placed as they are, by their path in the guest.
	Files map[string][]byte
}

// initProgram is the guest's process 1; every image needs it.
var initProgram = Program{Package: "headroom/deploy/rig/guestinit", Path: "/init"}

// Prepare returns the folder with the kernel and its modules, made on first
// use by prepare.sh in root's deploy/rig; the error holds the script's own
// words on what is missing.
func Prepare(root string) (string, error) {
	cmd := exec.Command(filepath.Join(root, "deploy", "rig", "prepare.sh"))
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	if err != nil {
		return "", fmt.Errorf("%w: %s", err, strings.TrimSpace(errs.String()))
	}
	return strings.TrimSpace(string(out)), nil
}

// BuildImage writes an initramfs with the guest's init, the kernel's modules
// and these contents, with programs built static from the checkout at root.
func BuildImage(root, kernel, image string, c Contents) error {
	var out bytes.Buffer
	a := newArchive(&out)
	for _, f := range []string{"proc", "sys", "dev", "tmp", "run", "data"} {
		a.folder(f)
	}
	for _, p := range append([]Program{initProgram}, c.Programs...) {
		binary, err := build(root, filepath.Dir(image), p)
		if err != nil {
			return err
		}
		a.file(p.Path, 0o755, binary)
	}
	for _, path := range slices.Sorted(maps.Keys(c.Files)) {
		a.file(path, 0o644, c.Files[path])
	}
	modules, err := filepath.Glob(filepath.Join(kernel, "modules", "*.ko"))
	if err != nil || len(modules) == 0 {
		return fmt.Errorf("no modules in %s: delete it and prepare again (%v)", kernel, err)
	}
	for _, m := range modules {
		b, err := os.ReadFile(m)
		if err != nil {
			return fmt.Errorf("cannot read a module: %w", err)
		}
		a.file("/modules/"+filepath.Base(m), 0o644, b)
	}
	if err := a.end(); err != nil {
		return err
	}
	return os.WriteFile(image, out.Bytes(), 0o644)
}

func build(root, folder string, p Program) ([]byte, error) {
	file := filepath.Join(folder, "built-"+filepath.Base(p.Path))
	cmd := exec.Command("go", "build", "-trimpath", "-ldflags", "-s -w", "-tags", p.Tags, "-o", file, p.Package)
	cmd.Dir = root
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS=linux", "GOARCH=amd64", "GOFLAGS=")
	if out, err := cmd.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("cannot build %s for the guest: %w: %s", p.Package, err, out)
	}
	return os.ReadFile(file)
}
