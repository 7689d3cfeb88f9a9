package bench

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"headroom/daemon/wholefile"
)

// Store keeps one file for each test.
type Store struct{ folder string }

// NewStore names the folder; it is made with the first test.
func NewStore(folder string) *Store { return &Store{folder} }

// path refuses an ID that would leave the folder.
func (s *Store) path(id string) (string, error) {
	if id == "" || strings.ContainsAny(id, `/\`) || strings.HasPrefix(id, ".") {
		return "", fmt.Errorf("%q is not the name of a test: headroom bench list shows them", id)
	}
	return filepath.Join(s.folder, id+".json"), nil
}

// Save writes a test so that a power cut leaves the state before or after.
func (s *Store) Save(r *Record) error {
	path, err := s.path(r.ID)
	if err != nil {
		return err
	}
	data, err := r.Encode()
	if err != nil {
		return err
	}
	if err := wholefile.Write(path, data); err != nil {
		return fmt.Errorf("cannot keep the test %s: %w", r.ID, err)
	}
	return nil
}

// Has reports whether a test of that name is kept.
func (s *Store) Has(id string) bool {
	path, err := s.path(id)
	if err != nil {
		return false
	}
	_, err = os.Stat(path)
	return err == nil
}

// Load reads a test.
func (s *Store) Load(id string) (*Record, error) {
	path, err := s.path(id)
	if err != nil {
		return nil, err
	}
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("there is no test %q in %s: headroom bench list shows them", id, s.folder)
	}
	if err != nil {
		return nil, fmt.Errorf("cannot read the test %s: %w", id, err)
	}
	r, err := Decode(data)
	if err != nil {
		return nil, fmt.Errorf("the test %s: %w", path, err)
	}
	return r, nil
}

// Delete takes a test away for good.
func (s *Store) Delete(id string) error {
	path, err := s.path(id)
	if err != nil {
		return err
	}
	if err := os.Remove(path); err != nil {
		return fmt.Errorf("cannot delete the test %s: %w", id, err)
	}
	return nil
}

// List returns all tests that can be read, the oldest first, and one error for
// each that can't.
func (s *Store) List() (all []*Record, bad []error) {
	files, err := os.ReadDir(s.folder)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, []error{fmt.Errorf("cannot list the tests: %w", err)}
	}
	for _, f := range files {
		id, ok := strings.CutSuffix(f.Name(), ".json")
		if !ok || f.IsDir() {
			continue
		}
		r, err := s.Load(id)
		if err != nil {
			bad = append(bad, err)
			continue
		}
		all = append(all, r)
	}
	slices.SortStableFunc(all, func(a, b *Record) int { return a.Began.Compare(b.Began) })
	return all, bad
}
