package checklist

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"

	"headroom/daemon/wholefile"
)

// The files of a Keeper, in its folder.
const (
	listFile  = "checklist.json"
	roundFile = "checklist_last.json"
)

// Keeper keeps the list and the last round in a folder. Safe for use by many
// goroutines. Its files are small and written whole, so that a power cut leaves
// the old or the new one.
type Keeper struct {
	dir    string
	engine bool
	mu     sync.Mutex
}

// NewKeeper keeps its files in dir, which need not be there yet. engine chooses
// the list that holds while nobody has written one.
func NewKeeper(dir string, engine bool) *Keeper { return &Keeper{dir: dir, engine: engine} }

// Default is the list that holds while nobody has written one.
func (k *Keeper) Default() List { return Default(k.engine) }

// List returns the list in force. With an error, which says why its file can't
// be used, it is the default one: no list would be worse.
func (k *Keeper) List() (List, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	var l List
	found, err := k.read(listFile, &l)
	if err == nil && found {
		err = l.Validate()
	}
	if err != nil {
		return k.Default(), fmt.Errorf("the list of this machine can't be used, so this is the usual one: %w; write it anew", err)
	}
	if !found {
		return k.Default(), nil
	}
	return l, nil
}

// SetList puts a valid list in force.
func (k *Keeper) SetList(l List) error {
	if err := l.Validate(); err != nil {
		return err
	}
	return k.write(listFile, l)
}

// Last returns the last round; ok is false when there was none, or when its
// file can't be read: then err says why.
func (k *Keeper) Last() (r Round, ok bool, err error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	ok, err = k.read(roundFile, &r)
	if err != nil {
		return Round{}, false, err
	}
	return r, ok, nil
}

// SetLast keeps the last round.
func (k *Keeper) SetLast(r Round) error { return k.write(roundFile, r) }

// read reads one file; found is false without one.
func (k *Keeper) read(name string, into any) (found bool, err error) {
	path := filepath.Join(k.dir, name)
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err == nil {
		err = json.Unmarshal(data, into)
	}
	if err != nil {
		return false, fmt.Errorf("cannot read %s: %w", path, err)
	}
	return true, nil
}

func (k *Keeper) write(name string, what any) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	data, err := json.MarshalIndent(what, "", "  ")
	if err == nil {
		err = wholefile.Write(filepath.Join(k.dir, name), append(data, '\n'))
	}
	if err != nil {
		return fmt.Errorf("cannot keep %s: %w", name, err)
	}
	return nil
}
