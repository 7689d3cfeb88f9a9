package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"headroom/daemon/access"
)

// cmdPIN draws the PIN that changes on the dashboard need.
func cmdPIN(_ context.Context, args []string, io stdio) error {
	// "new" is asked for, so that nobody voids a PIN by looking at the command.
	sure := len(args) > 0 && args[0] == "new"
	if sure {
		args = args[1:]
	}
	fs := flags("pin new", "[flags]", io)
	conf := fs.String("config", "", "config `file` that names the record's folder")
	folder := fs.String("record", "", "`folder` of the record, instead of the config's")
	if err := parse(fs, args); err != nil {
		return err
	}
	if !sure || fs.NArg() > 0 {
		fs.Usage()
		return errUsage
	}
	cfg, err := loadConfig(*conf)
	if err != nil {
		return err
	}
	state, err := recordFolder(*folder, cfg.Record.Folder)
	if err != nil {
		return err
	}
	// A mistyped folder would get a PIN that no daemon ever asks for.
	if _, err := os.Stat(state); errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("there is no record in %s; name its folder with -record, or start headroom once", state)
	}
	pin, err := access.NewPIN(access.Folder(state))
	if err != nil {
		return err
	}
	fmt.Fprintf(io.out, "The PIN of this device: %s\n"+
		"It is shown this once; write it on a label inside the box. The old PIN and whoever gave it are void.\n"+
		"It holds for the program that keeps its record in %s\n", pin, state)
	return nil
}
