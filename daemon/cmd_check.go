package main

import (
	"context"
	"fmt"
	"os"

	"headroom/daemon/config"
	"headroom/daemon/hardware"
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
		return fmt.Errorf("%d of %d files have mistakes", bad, fs.NArg())
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
		fmt.Fprintf(io.out, "%s: %d mistakes\n", path, n)
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
	fmt.Fprintf(io.out, "%s: good\n", path)
	return true, nil
}
