package main

import (
	"context"
	"fmt"
	"os"

	"headroom/sensors/csvfile"
)

// cmdCSV proposes the map of somebody else's recording.
func cmdCSV(_ context.Context, args []string, io stdio) error {
	fs := flags("csv", "FILE", io)
	if err := parse(fs, args); err != nil {
		return err
	}
	if fs.NArg() != 1 {
		fs.Usage()
		return errUsage
	}
	path := fs.Arg(0)
	file, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("cannot open the recording: %w", err)
	}
	defer file.Close()
	p, err := csvfile.Propose(file)
	if err != nil {
		return fmt.Errorf("cannot propose a map of %s: %w", path, err)
	}
	if _, err := io.out.Write(p.Text()); err != nil {
		return err
	}
	fmt.Fprintf(io.err, "Keep this as %s, correct it, and add your machine's figures; then: headroom replay %s\n", ownConfig(path), path)
	return nil
}
