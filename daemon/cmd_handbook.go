package main

import (
	"context"

	"headroom/daemon/handbook"
)

// cmdHandbook is the alarm handbook of a config.
func cmdHandbook(ctx context.Context, args []string, io stdio) error {
	page := func(path string) (string, error) {
		cfg, err := loadConfig(path)
		if err != nil {
			return "", err
		}
		return handbook.Markdown(handbook.Build(cfg)), nil
	}
	return generated{command: "handbook", what: "alarm handbook", usage: "[-config FILE] ", page: page}.run(ctx, args, io)
}
