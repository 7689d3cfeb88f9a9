package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// Info is what boot.json says of a run.
type Info struct {
	// Boot is the number of the run, from 1, and never given twice.
	Boot uint64 `json:"boot"`
	// Software is the version that recorded, Config the hash of the
	// configuration in force, Machine the machine's name.
	Software string `json:"software"`
	Config   string `json:"config"`
	Machine  string `json:"machine"`
	// StartWall is what the clock said at the start; it may have been wrong.
	StartWall time.Time `json:"start_wall"`
}

// beginBoot gives the run a number that no run had before, and a folder.
func beginBoot(fsys fileSystem, dir string, info *Info) (folder string, err error) {
	if err := fsys.Mkdir(dir, folderPerm); err != nil {
		return "", fmt.Errorf("cannot make the folder of the record: %w", err)
	}
	last, err := lastBoot(fsys, dir)
	if err != nil {
		return "", err
	}
	info.Boot, info.StartWall = last+1, jsonWall(info.StartWall)
	number := strconv.FormatUint(info.Boot, 10) + "\n"
	if err := replaceFile(fsys, filepath.Join(dir, bootNumberName), []byte(number)); err != nil {
		return "", err
	}
	folder = bootFolder(dir, info.Boot)
	if err := fsys.Mkdir(folder, folderPerm); err != nil {
		return "", fmt.Errorf("cannot make the folder of run %d: %w", info.Boot, err)
	}
	if err := fsys.SyncDir(dir); err != nil {
		return "", fmt.Errorf("cannot make the folder of run %d safe: %w", info.Boot, err)
	}
	text, err := json.MarshalIndent(info, "", "  ")
	if err != nil {
		return "", fmt.Errorf("cannot describe run %d: %w", info.Boot, err)
	}
	return folder, replaceFile(fsys, filepath.Join(folder, bootInfoName), append(text, '\n'))
}

// lastBoot returns the highest number that was ever given, 0 for none. The
// folders count too, should the file be lost or unreadable.
func lastBoot(fsys fileSystem, dir string) (uint64, error) {
	text, err := readWhole(fsys, filepath.Join(dir, bootNumberName))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return 0, fmt.Errorf("cannot read the number of the last run: %w", err)
	}
	last, err := strconv.ParseUint(strings.TrimSpace(string(text)), 10, 62)
	if err != nil {
		last = 0
	}
	all, err := boots(fsys, dir)
	if err != nil {
		return 0, fmt.Errorf("cannot look for earlier runs: %w", err)
	}
	if n := len(all); n > 0 {
		last = max(last, all[n-1])
	}
	return last, nil
}
