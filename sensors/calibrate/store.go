package calibrate

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"

	"headroom/rules/frame"
)

// Store keeps every calibration in one file per channel, the newest last, so
// that what was in force on any day can be told. Safe for use by many
// goroutines and, where the system has file locks, by several programs.
type Store struct {
	dir string
	mu  sync.Mutex
}

// NewStore opens the folder, which is made if it isn't there.
func NewStore(dir string) (*Store, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("cannot make the folder of the calibrations: %w", err)
	}
	return &Store{dir: dir}, nil
}

// File returns the path of a channel's file.
func (s *Store) File(ch frame.Channel) string {
	return filepath.Join(s.dir, ch.String()+".jsonl")
}

// Load returns all calibrations of a channel, the oldest first; none without a
// file. With a *Damage error the list holds all that are whole.
func (s *Store) Load(ch frame.Channel) ([]Calibration, error) {
	all, _, err := s.load(ch)
	return all, err
}

func (s *Store) load(ch frame.Channel) ([]Calibration, []byte, error) {
	data, err := os.ReadFile(s.File(ch))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil, nil
	}
	if err != nil {
		return nil, nil, fmt.Errorf("cannot read the calibrations of %s: %w", ch, err)
	}
	all, bad := decode(data, ch.String())
	if len(bad) > 0 {
		return all, data, &Damage{File: s.File(ch), Whole: len(all), Lines: bad}
	}
	return all, data, nil
}

// Latest returns the newest whole calibration, nil for none. With a *Damage
// error a newer one may be lost: its user must be told.
func (s *Store) Latest(ch frame.Channel) (*Calibration, error) {
	all, err := s.Load(ch)
	if len(all) == 0 {
		return nil, err
	}
	return &all[len(all)-1], err
}

// Mark names the newest of a channel's calibrations, all of which Load returned,
// so that who acts on what a page showed doesn't act on something newer. It is
// empty for none.
func Mark(all []Calibration) string {
	if len(all) == 0 {
		return ""
	}
	return fmt.Sprintf("%d-%d", len(all), all[len(all)-1].Date.UnixMilli())
}

// Append adds a calibration. When it returns nil the file is safe from a power
// cut; with an error the file is as it was. A damaged file is refused, so that
// nothing that could still be read by hand is written over: see Repair.
func (s *Store) Append(c Calibration) error {
	if err := c.Validate(); err != nil {
		return fmt.Errorf("cannot save the calibration: %w", err)
	}
	ch, _ := frame.ByName(c.Channel)
	return s.locked(ch, func() error {
		_, data, err := s.load(ch)
		if err != nil {
			return err
		}
		data, err = appendEntry(data, c)
		if err != nil {
			return err
		}
		return replaceFile(s.File(ch), data)
	})
}

// Repair puts a damaged file aside, whole, and begins a new one with all
// entries that are whole. aside is its new name; "" when nothing was damaged.
func (s *Store) Repair(ch frame.Channel) (aside string, err error) {
	err = s.locked(ch, func() error {
		all, data, err := s.load(ch)
		var d *Damage
		if err == nil || !errors.As(err, &d) {
			return err
		}
		name := fmt.Sprintf("%s.damaged-%s", s.File(ch), digest(data)[:12])
		if err := replaceFile(name, data); err != nil {
			return err
		}
		var mended []byte
		for _, c := range all {
			if mended, err = appendEntry(mended, c); err != nil {
				return err
			}
		}
		aside = name
		return replaceFile(s.File(ch), mended)
	})
	return aside, err
}

// locked runs do while no other goroutine or program changes the files.
func (s *Store) locked(ch frame.Channel, do func() error) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	unlock, err := lockFolder(s.dir)
	if err == nil {
		defer unlock()
		err = do()
	}
	if err != nil {
		return fmt.Errorf("cannot change the calibrations of %s: %w", ch, err)
	}
	return nil
}

// replaceFile writes data so that after a power cut the file holds either what
// it held or all of data: a temporary file, made safe, takes the name, and the
// folder is made safe too.
func replaceFile(name string, data []byte) error {
	f, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+".*")
	if err != nil {
		return err
	}
	temp := f.Name()
	_, err = f.Write(data)
	err = errors.Join(err, f.Chmod(0o644), f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(temp, name)
	}
	if err != nil {
		return errors.Join(err, os.Remove(temp))
	}
	return syncFolder(filepath.Dir(name))
}

func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
