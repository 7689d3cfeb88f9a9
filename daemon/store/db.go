package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

const (
	databaseName = "record.db"
	tailName     = "tail"
	folderPerm   = 0o755
	// pageBytes is a quarter of the usual, as a block wastes half of its last
	// page. A page is read once and written rarely, so small ones cost little.
	pageBytes = 1024
	// walBytes bounds the log that the database writes ahead.
	walBytes = 1 << 20
)

// openDatabase opens or makes a database without looking into it.
func openDatabase(path string, readOnly bool) (*sql.DB, error) {
	q := url.Values{"_txlock": {"immediate"}, "_pragma": {
		"busy_timeout(5000)", "cache_size(-1024)", "temp_store(MEMORY)",
	}}
	if readOnly {
		q.Set("mode", "ro")
		q.Set("_txlock", "deferred")
	} else {
		// Full, as what is sealed is given free in the tail at once.
		q["_pragma"] = append(q["_pragma"], "journal_mode(WAL)", "synchronous(FULL)",
			fmt.Sprintf("journal_size_limit(%d)", walBytes), "wal_autocheckpoint(800)")
	}
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", OmitHost: true, Path: path, RawQuery: q.Encode()}).String())
	if err != nil {
		return nil, fmt.Errorf("cannot open the record %s: %w", path, err)
	}
	db.SetMaxOpenConns(1)
	if readOnly {
		db.SetMaxOpenConns(3)
	}
	return db, nil
}

// makeDatabase makes a new database, without the log written ahead at first:
// switching to that settles the size of pages at the library's usual one.
func makeDatabase(ctx context.Context, path, software string) error {
	u := url.URL{Scheme: "file", OmitHost: true, Path: path, RawQuery: fmt.Sprintf("_pragma=page_size(%d)", pageBytes)}
	db, err := sql.Open("sqlite", u.String())
	if err != nil {
		return fmt.Errorf("cannot make the record %s: %w", path, err)
	}
	db.SetMaxOpenConns(1)
	return errors.Join(migrate(ctx, db, migrations, software), db.Close())
}

// openChecked opens the database and looks whether it is whole. One that is
// damaged is put aside, and what can be read of it is taken over into a new
// one; problems says so.
func openChecked(ctx context.Context, dir string, o *Options) (db *sql.DB, problems []string, err error) {
	path := filepath.Join(dir, databaseName)
	db, err = openWhole(ctx, path, o)
	if err == nil || !damaged(err) {
		return db, nil, err
	}
	aside, e := putAside(path)
	if e != nil {
		return nil, nil, errors.Join(err, e)
	}
	problems = []string{fmt.Sprintf("the record was damaged (%v) and was put aside as %s", err, filepath.Base(aside))}
	if db, err = openWhole(ctx, path, o); err != nil {
		return nil, problems, err
	}
	return db, append(problems, salvage(ctx, db, aside)...), nil
}

// openWhole opens, checks and migrates.
func openWhole(ctx context.Context, path string, o *Options) (*sql.DB, error) {
	if err := checkHeader(path); err != nil {
		return nil, err
	}
	info, err := os.Stat(path)
	check := err == nil && info.Size() <= o.CheckBytes
	if errors.Is(err, os.ErrNotExist) || err == nil && info.Size() == 0 {
		if err := makeDatabase(ctx, path, o.Info.Software); err != nil {
			return nil, err
		}
	}
	db, err := openDatabase(path, false)
	if err != nil {
		return nil, err
	}
	if check {
		err = quickCheck(ctx, db)
	}
	if err == nil {
		err = migrate(ctx, db, migrations, o.Info.Software)
	}
	if err == nil {
		err = hasState(ctx, db)
	}
	if err != nil {
		_ = db.Close() // the first error tells more
		return nil, err
	}
	return db, nil
}

// errDamaged is a finding of the check.
var errDamaged = errors.New("the database is damaged")

func quickCheck(ctx context.Context, db *sql.DB) error {
	var found string
	if err := db.QueryRowContext(ctx, "PRAGMA quick_check(1)").Scan(&found); err != nil {
		return fmt.Errorf("cannot check the record: %w", err)
	}
	if found != "ok" {
		return fmt.Errorf("%w: %s", errDamaged, found)
	}
	return nil
}

// hasState makes sure that the one row of state is there.
func hasState(ctx context.Context, db *sql.DB) error {
	var n int
	err := db.QueryRowContext(ctx, "SELECT count(*) FROM state").Scan(&n)
	if err == nil && n != 1 {
		err = fmt.Errorf("%w: its state is lost", errDamaged)
	}
	return err
}

// damaged tells damage from a disk that is full, read-only or failing.
func damaged(err error) bool {
	if errors.Is(err, errDamaged) {
		return true
	}
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return false
	}
	switch e.Code() & 0xff {
	case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
		return true
	case sqlite3.SQLITE_ERROR:
		// A damaged schema reads as one that lacks something.
		return strings.Contains(e.Error(), "no such") || strings.Contains(e.Error(), "malformed")
	}
	return false
}

// IsDamaged tells damage of the database from a disk that fails and from
// everything else.
func IsDamaged(err error) bool { return err != nil && damaged(err) }

// putAside renames the database's files to names that are not taken.
func putAside(path string) (aside string, err error) {
	for n := 1; ; n++ {
		aside = fmt.Sprintf("%s.damaged-%d", path, n)
		if _, err := os.Stat(aside); errors.Is(err, os.ErrNotExist) {
			break
		}
	}
	for _, suffix := range [...]string{"-wal", "-shm", ""} {
		if err := os.Rename(path+suffix, aside+suffix); err != nil && !errors.Is(err, os.ErrNotExist) {
			return "", fmt.Errorf("cannot put the damaged record aside: %w", err)
		}
	}
	return aside, nil
}
