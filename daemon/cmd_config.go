package main

import (
	"context"

	"headroom/daemon/config"
)

// cmdConfig prints the commented default config.
func cmdConfig(_ context.Context, args []string, io stdio) error {
	if err := parse(flags("config", "", io), args); err != nil {
		return err
	}
	return config.WriteDefault(io.out)
}
