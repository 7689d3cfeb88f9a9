package main

import (
	"context"
	"fmt"

	"headroom/daemon/hardware"
	"headroom/daemon/hardware/scan"
)

// cmdScan lists what hardware there is and proposes a config for it.
func cmdScan(ctx context.Context, args []string, io stdio) error {
	fs := flags("scan", "[flags]", io)
	root := fs.String("root", "", "look at /dev and /sys below this `folder`, and ask no device")
	noProbe := fs.Bool("no-probe", false, "ask no I2C address; without it each gets one read of one byte")
	if err := parse(fs, args); err != nil {
		return err
	}
	e := scan.Env{Root: *root}
	if *root == "" && !*noProbe {
		e.OpenI2C = hardware.OpenI2C
	}
	found := e.Run(ctx)
	if err := found.Write(io.out); err != nil {
		return err
	}
	fmt.Fprint(io.out, "\n# A config to begin with:\n")
	return found.Propose(io.out)
}
