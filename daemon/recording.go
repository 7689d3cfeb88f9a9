package main

import (
	"context"
	"errors"
	"fmt"

	"headroom/daemon/config"
	"headroom/daemon/exported"
	"headroom/daemon/rerun"
)

// isOwn reports whether a file is an export of this program that brings its
// own config.
func isOwn(path string) bool {
	f, err := exported.Open(path)
	return err == nil && len(f.Info.ConfigText) > 0
}

// replayExport replays an export of the record: under the config in force, and
// with what people did, as replaying the record itself does. done is false for
// other files, and for recordings that say no more than their frames.
func (o *replayFlags) replayExport(ctx context.Context, path string, io stdio) (done bool, err error) {
	f, err := exported.Open(path)
	if errors.Is(err, exported.ErrNotOwn) || err == nil && f.Format == exported.CSV && (f.LeadIn == "" || o.strict) {
		return false, nil // rows are all there is
	}
	if err != nil {
		return true, err
	}
	var opt rerun.Options
	named := o.config
	if named == "" && len(f.Info.ConfigText) == 0 {
		named = sideFile(path, "")
	}
	if named != "" {
		if opt.Config, err = config.Load(named); err != nil {
			return true, err
		}
	}
	if f.LeadIn == exported.None {
		fmt.Fprintln(io.err, "what came before is not in this file: verdicts only come near those of then")
	}
	return true, o.again(ctx, f, f.Head.Run, opt, io)
}
