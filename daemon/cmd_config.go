package main

import (
	"context"
	"fmt"

	"headroom/daemon/config"
)

// cmdConfig prints the commented default config.
func cmdConfig(_ context.Context, args []string, io stdio) error {
	fs := flags("config", "", io)
	if err := parse(fs, args); err != nil {
		return err
	}
	if fs.NArg() > 0 {
		return fmt.Errorf("config takes no %q; to check a file: headroom check FILE", fs.Arg(0))
	}
	return config.WriteDefault(io.out)
}
