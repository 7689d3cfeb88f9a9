package record

import (
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

const (
	bootNumberName = "boot-number"
	deletionsName  = "deletions.jsonl"
	bootInfoName   = "boot.json"
	eventsName     = "events.jsonl"
	bootPrefix     = "boot-"
	segmentPrefix  = "frames-"
	segmentSuffix  = ".csv"
)

func bootFolder(dir string, boot uint64) string {
	return filepath.Join(dir, fmt.Sprintf("%s%06d", bootPrefix, boot))
}

func segmentName(n uint64) string {
	return fmt.Sprintf("%s%04d%s", segmentPrefix, n, segmentSuffix)
}

// numberIn reads the number in a name as bootFolder and segmentName make it.
func numberIn(name, prefix, suffix string) (n uint64, ok bool) {
	digits, ok := strings.CutPrefix(name, prefix)
	if !ok {
		return 0, false
	}
	if digits, ok = strings.CutSuffix(digits, suffix); !ok || len(digits) < 4 {
		return 0, false
	}
	n, err := strconv.ParseUint(digits, 10, 63)
	return n, err == nil && n > 0
}

// boots returns the numbers of the runs that have a folder, oldest first.
func boots(fsys fileSystem, dir string) ([]uint64, error) {
	return numbers(fsys, dir, bootPrefix, "", true)
}

// segments returns the numbers of a run's segments, oldest first.
func segments(fsys fileSystem, folder string) ([]uint64, error) {
	return numbers(fsys, folder, segmentPrefix, segmentSuffix, false)
}

func numbers(fsys fileSystem, dir, prefix, suffix string, folders bool) ([]uint64, error) {
	entries, err := fsys.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var out []uint64
	for _, e := range entries {
		if n, ok := numberIn(e.Name(), prefix, suffix); ok && e.IsDir() == folders {
			out = append(out, n)
		}
	}
	slices.Sort(out)
	return out, nil
}
