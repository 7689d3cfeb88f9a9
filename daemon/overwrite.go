package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
)

// notThere refuses to replace a file that exists, unless it is forced: what is
// overwritten may be the only copy of a report that somebody relies on. What is
// no plain file, such as /dev/stdout, is written to.
func notThere(path string, force bool) error {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist), force, path == "":
		return nil
	case err != nil:
		return fmt.Errorf("cannot write %s: %w", path, err)
	case !info.Mode().IsRegular() && !info.IsDir():
		return nil
	}
	return fmt.Errorf("%s exists already: name another file, or replace it with -force", path)
}
