package main

import (
	"context"
	"fmt"

	"headroom/daemon/config"
	"headroom/daemon/ruleset"
)

// cmdPrometheus writes what a Prometheus server and its dashboards need to
// watch this machine, in the words of its own alarms.
func cmdPrometheus(ctx context.Context, args []string, io stdio) error {
	pages := map[string]struct {
		what string
		make func(*config.Config) string
	}{
		"alerts":     {"file of alert rules", ruleset.Alerts},
		"tests":      {"file of the alert rules' tests", ruleset.Tests},
		"days-tests": {"file of the tests of rules that look at days", ruleset.DaysTests},
		"dashboard":  {"dashboard", ruleset.Dashboard},
	}
	name := ""
	if len(args) > 0 {
		name = args[0]
	}
	p, ok := pages[name]
	if !ok {
		fmt.Fprintf(io.err, "usage: headroom prometheus alerts|tests|days-tests|dashboard [-config FILE] [-write FILE | -check FILE]\n")
		return errUsage
	}
	page := func(path string) (string, error) {
		cfg, err := loadConfig(path)
		if err != nil {
			return "", err
		}
		return p.make(cfg), nil
	}
	return generated{command: "prometheus " + name, what: p.what, usage: "[-config FILE] ", page: page}.run(ctx, args[1:], io)
}
