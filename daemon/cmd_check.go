package main

import (
	"context"
	"fmt"
	"os"
	"strings"

	"headroom/daemon/config"
	"headroom/daemon/hardware"
	"headroom/daemon/remote"
	"headroom/rules/engine"
)

// cmdCheck names every mistake of each file at once, and what is only worth
// knowing besides.
func cmdCheck(_ context.Context, args []string, io stdio) error {
	fs := flags("check", "FILE...", io)
	if err := parse(fs, args); err != nil {
		return err
	}
	if fs.NArg() == 0 {
		fs.Usage()
		return errUsage
	}
	bad := 0
	for _, path := range fs.Args() {
		ok, err := checkFile(path, io)
		if err != nil {
			return err
		}
		if !ok {
			bad++
		}
	}
	if bad > 0 {
		return fmt.Errorf("%d of %s can't be used", bad, counted(fs.NArg(), "file"))
	}
	return nil
}

func checkFile(path string, io stdio) (ok bool, err error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return false, fmt.Errorf("cannot read the config: %w", err)
	}
	cfg, problems := config.Parse(path, text)
	for _, p := range problems {
		fmt.Fprintln(io.out, p)
	}
	if n := len(config.Mistakes(problems)); n > 0 {
		fmt.Fprintf(io.out, "%s: %s\n", path, counted(n, "mistake"))
		return false, nil
	}
	// The engine's own guard, in case the checks above let something through.
	if _, err := engine.New(cfg.Engine); err != nil {
		fmt.Fprintf(io.out, "%s: %v\n", path, err)
		return false, nil
	}
	if err := hardware.Check(cfg); err != nil {
		fmt.Fprintf(io.out, "%s: %v\n", path, err)
		return false, nil
	}
	if err := remote.Check(cfg); err != nil {
		fmt.Fprintf(io.out, "%s: [remote]: %s\n", path, strings.ReplaceAll(err.Error(), "\n", "; "))
		return false, nil
	}
	fmt.Fprintf(io.out, "%s: good\n", path)
	return true, nil
}

// counted is a number with its noun, in the singular for one.
func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
