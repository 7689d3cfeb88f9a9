// Command package builds the Debian packages of headroom for the boards'
// processors: arm64, armhf from ARMv6 up, and amd64. It owns what lies where
// in a package, the maintainer scripts (debian/) and the rule that the same
// source gives the same bytes: times come from the last commit, paths of the
// builder are left out, and nothing of the machine it runs on goes in. It needs
// Go and dpkg-deb, no root, and refuses to make a package whose version or date
// it would have to guess.
//
//	go run ./deploy/package              # three packages in dist/
//	go run ./deploy/package -arch arm64  # one
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "package:", err)
		os.Exit(1)
	}
}

// architectures are Debian's names with what Go calls them. Debian's own armhf
// begins at ARMv7; boards with an ARMv6 run a system that calls itself armhf
// too, so this one is built for both.
var architectures = []architecture{
	{"arm64", []string{"GOARCH=arm64", "GOARM64=v8.0"}},
	{"armhf", []string{"GOARCH=arm", "GOARM=6"}},
	{"amd64", []string{"GOARCH=amd64", "GOAMD64=v1"}},
}

type architecture struct {
	debian string
	env    []string
}

func run(ctx context.Context, args []string) error {
	fs := flag.NewFlagSet("package", flag.ExitOnError)
	arch := fs.String("arch", "all", "arm64, armhf, amd64 or all")
	version := fs.String("version", "", "the package's `version`; without it from git")
	out := fs.String("o", "dist", "`folder` for the packages")
	root := fs.String("root", ".", "`folder` of the checkout")
	_ = fs.Parse(args) // it exits by itself
	if fs.NArg() > 0 {
		return fmt.Errorf("%q is no flag; see -h", fs.Arg(0))
	}
	chosen := slices.DeleteFunc(slices.Clone(architectures), func(a architecture) bool { return *arch != "all" && *arch != a.debian })
	if len(chosen) == 0 {
		return fmt.Errorf("there is no package for %q; choose arm64, armhf, amd64 or all", *arch)
	}
	src, err := findSource(ctx, *root, *version)
	if err != nil {
		return err
	}
	for _, a := range chosen {
		path, err := build(ctx, src, a, *out)
		if err != nil {
			return fmt.Errorf("cannot build the package for %s: %w", a.debian, err)
		}
		fmt.Println(path)
	}
	return nil
}

// build makes one package and returns its path.
func build(ctx context.Context, src *source, a architecture, out string) (string, error) {
	work, err := os.MkdirTemp("", "headroom-package-")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(work) // what stays behind is in the system's own folder for that
	t := &tree{root: filepath.Join(work, "tree"), when: src.date}
	if err := src.fill(ctx, t, a, work); err != nil {
		return "", err
	}
	if err := t.control(src, a); err != nil {
		return "", err
	}
	if err := os.MkdirAll(out, 0o755); err != nil {
		return "", err
	}
	path := filepath.Join(out, strings.Join([]string{"headroom", src.version, a.debian}, "_")+".deb")
	return path, t.pack(ctx, path)
}
