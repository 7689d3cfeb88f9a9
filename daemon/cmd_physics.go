package main

import (
	"context"
	"fmt"
	"os"
	"strings"

	"headroom/rules/physics"
)

// cmdPhysics prints what is computed and what it was compared with, writes it
// to a file, or checks that a file is current.
func cmdPhysics(_ context.Context, args []string, io stdio) error {
	fs := flags("physics", "[-write FILE | -check FILE]", io)
	write := fs.String("write", "", "write the page to `file`")
	check := fs.String("check", "", "fail unless `file` is the current page")
	if err := parse(fs, args); err != nil {
		return err
	}
	if fs.NArg() > 0 || (*write != "" && *check != "") {
		fs.Usage()
		return errUsage
	}
	switch {
	case *write != "":
		if err := os.WriteFile(*write, []byte(physics.Document()), 0o644); err != nil {
			return fmt.Errorf("cannot write the physics page: %w", err)
		}
		return nil
	case *check != "":
		return checkPhysics(*check, io)
	}
	if _, err := fmt.Fprint(io.out, physics.Document()); err != nil {
		return fmt.Errorf("cannot print the physics page: %w", err)
	}
	return nil
}

// checkPhysics says where a page first differs from the current one.
func checkPhysics(path string, io stdio) error {
	got, err := os.ReadFile(path)
	if err != nil {
		return fmt.Errorf("cannot read the physics page: %w", err)
	}
	want := physics.Document()
	if string(got) == want {
		fmt.Fprintf(io.out, "%s: current\n", path)
		return nil
	}
	line, have := 1, strings.Split(string(got), "\n")
	for i, w := range strings.Split(want, "\n") {
		if i >= len(have) || have[i] != w {
			line = i + 1
			break
		}
		line = i + 2 // the page goes on where the current one ends
	}
	return fmt.Errorf("%s is not current, from line %d on; write it anew with: headroom physics -write %s", path, line, path)
}
