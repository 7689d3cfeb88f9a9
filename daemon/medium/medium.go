// Package medium looks at what a folder lies on: how much room is left, whether
// it can be written, and whether it outlives the power. It owns the kernel's
// answers to these questions and turns them into plain data; what they mean for
// the record, and which words a person reads, is for others. It writes nothing,
// and it refuses to guess: what the kernel doesn't tell is said to be unknown. A
// call may hang for as long as a dying card lets the kernel hang.
package medium

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
)

// Keeps says whether what is written outlives the power.
type Keeps uint8

// The answers.
const (
	// KeepsUnknown: the kernel doesn't tell.
	KeepsUnknown Keeps = iota
	// KeepsIt: a file system on a medium.
	KeepsIt
	// LosesIt: the folder lies in memory.
	LosesIt
	// MayLoseIt: a layer over another file system, of which nothing more can
	// be seen from here, as in a container.
	MayLoseIt
)

// Medium is what a folder lies on.
type Medium struct {
	// Type is the file system's, as the kernel names it; empty where unknown.
	Type string
	// FreeBytes can be written by this program, TotalBytes is the size of all.
	FreeBytes, TotalBytes int64
	// FreeFiles can still be made; -1 where there is no such limit.
	FreeFiles int64
	// ReadOnly: it is mounted so.
	ReadOnly bool
	Keeps    Keeps
}

// Look asks about the folder, or, where that isn't made yet, about the nearest
// one above it that is. It needs a kernel that tells, and is an error
// (errors.ErrUnsupported) on the others.
func Look(folder string) (Medium, error) {
	dir, err := existing(folder)
	if err != nil {
		return Medium{}, fmt.Errorf("cannot look at what %s lies on: %w", folder, err)
	}
	m, err := look(dir)
	if err != nil {
		return Medium{}, fmt.Errorf("cannot look at what %s lies on: %w", dir, err)
	}
	return m, nil
}

// existing is the nearest folder that is there, without links in its path.
func existing(folder string) (string, error) {
	dir, err := filepath.Abs(folder)
	for err == nil {
		var real string
		if real, err = filepath.EvalSymlinks(dir); err == nil {
			return real, nil
		}
		up := filepath.Dir(dir)
		if !errors.Is(err, fs.ErrNotExist) || up == dir {
			break
		}
		dir, err = up, nil
	}
	return "", err
}

// keeps judges a file system by its type; upper is the folder where an overlay
// puts what is written, empty where that isn't known or can't be seen.
func keeps(kind, upper string, typeOf func(dir string) (string, error)) Keeps {
	switch kind {
	case "":
		return KeepsUnknown
	case "tmpfs", "ramfs", "rootfs":
		return LosesIt
	case "overlay":
		if upper == "" {
			return MayLoseIt
		}
		switch below, err := typeOf(upper); {
		case err != nil || below == "overlay":
			return MayLoseIt
		default:
			return keeps(below, "", typeOf)
		}
	}
	return KeepsIt
}
