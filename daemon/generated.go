package main

import (
	"context"
	"fmt"
	"os"
	"strings"
)

// generated is a page that the program writes about itself and that the
// repository keeps a copy of.
type generated struct {
	// command prints it, what names it for people.
	command, what string
	// usage of further flags, and page makes it from them.
	usage string
	page  func(config string) (string, error)
}

// run prints the page, writes it to a file, or checks that a file is current.
func (g generated) run(_ context.Context, args []string, io stdio) error {
	fs := flags(g.command, g.usage+"[-write FILE | -check FILE]", io)
	conf := ""
	if g.usage != "" {
		fs.StringVar(&conf, "config", "", "config `file` that it tells of; without one the default config")
	}
	write := fs.String("write", "", "write it to `file`")
	check := fs.String("check", "", "fail unless `file` is current")
	if err := parse(fs, args); err != nil {
		return err
	}
	if fs.NArg() > 0 || (*write != "" && *check != "") {
		fs.Usage()
		return errUsage
	}
	page, err := g.page(conf)
	if err != nil {
		return err
	}
	return g.emit(page, *write, *check, io)
}

func (g generated) emit(page, write, check string, io stdio) error {
	switch {
	case write != "":
		if err := os.WriteFile(write, []byte(page), 0o644); err != nil {
			return fmt.Errorf("cannot write the %s: %w", g.what, err)
		}
		return nil
	case check != "":
		return g.check(check, page, io)
	}
	if _, err := fmt.Fprint(io.out, page); err != nil {
		return fmt.Errorf("cannot print the %s: %w", g.what, err)
	}
	return nil
}

// check says where a file first differs from the current page.
func (g generated) check(path, want string, io stdio) error {
	got, err := os.ReadFile(path)
	if err != nil {
		return fmt.Errorf("cannot read the %s: %w", g.what, err)
	}
	if string(got) == want {
		_, err := fmt.Fprintf(io.out, "%s: current\n", path)
		return err
	}
	if title, _, _ := strings.Cut(want, "\n"); len(got) > 0 && !strings.HasPrefix(string(got), title) {
		return fmt.Errorf("%s is no %s: it doesn't begin with %q", path, g.what, title)
	}
	have, line := strings.Split(string(got), "\n"), 1
	for i, w := range strings.Split(want, "\n") {
		line = i + 1
		if i >= len(have) || have[i] != w {
			break
		}
		line++ // where they agree to the end of the current page, it goes on there
	}
	return fmt.Errorf("%s is not current, from line %d on; write it anew with: headroom %s -write %s", path, line, g.command, path)
}
