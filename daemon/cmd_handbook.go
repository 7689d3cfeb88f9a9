package main

import (
	"context"
	"fmt"
	"os"
	"strings"

	"headroom/daemon/config"
	"headroom/daemon/handbook"
)

// cmdHandbook prints the alarm handbook of a config, writes it to a file, or
// checks that a file is current.
func cmdHandbook(_ context.Context, args []string, io stdio) error {
	fs := flags("handbook", "[-config FILE] [-write FILE | -check FILE]", io)
	path := fs.String("config", "", "config `file` whose limits it tells; without one the default config")
	write := fs.String("write", "", "write the handbook to `file`")
	check := fs.String("check", "", "fail unless `file` is the current handbook")
	if err := parse(fs, args); err != nil {
		return err
	}
	if fs.NArg() > 0 || (*write != "" && *check != "") {
		fs.Usage()
		return errUsage
	}
	cfg, err := loadForHandbook(*path)
	if err != nil {
		return err
	}
	page := handbook.Markdown(handbook.Build(cfg))
	switch {
	case *write != "":
		if err := os.WriteFile(*write, []byte(page), 0o644); err != nil {
			return fmt.Errorf("cannot write the alarm handbook: %w", err)
		}
		return nil
	case *check != "":
		return checkHandbook(*check, page, io)
	}
	if _, err := fmt.Fprint(io.out, page); err != nil {
		return fmt.Errorf("cannot print the alarm handbook: %w", err)
	}
	return nil
}

func loadForHandbook(path string) (*config.Config, error) {
	if path == "" {
		return config.Default(), nil
	}
	return config.Load(path)
}

// checkHandbook says where a page first differs from the current one.
func checkHandbook(path, want string, io stdio) error {
	got, err := os.ReadFile(path)
	if err != nil {
		return fmt.Errorf("cannot read the alarm handbook: %w", err)
	}
	if string(got) == want {
		fmt.Fprintf(io.out, "%s: current\n", path)
		return nil
	}
	have, line := strings.Split(string(got), "\n"), 1
	for i, w := range strings.Split(want, "\n") {
		line = i + 1
		if i >= len(have) || have[i] != w {
			break
		}
		line++ // where they agree to the end of the current page, it goes on there
	}
	return fmt.Errorf("%s is not current, from line %d on; write it anew with: headroom handbook -write %s", path, line, path)
}
