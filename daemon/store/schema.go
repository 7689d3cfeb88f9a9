package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// migrations make the database what this program knows; number n leads to
// version n+1. They are never changed once released, only added to.
var migrations = []string{migration1, migration2}

// migration1: times are in ns, monotonic but for wall times. Checksums cover
// what stands beside them, as SQLite has none of its own. Tables of rows that
// are longer than a quarter of a page keep their row numbers: without them
// such rows would each take a page.
const migration1 = `
CREATE TABLE state (
	id INTEGER PRIMARY KEY CHECK (id = 1),
	sealed_seq INTEGER NOT NULL,
	clean INTEGER NOT NULL
);
INSERT INTO state VALUES (1, 0, 1);
CREATE TABLE version (version INTEGER PRIMARY KEY, software TEXT NOT NULL, wall INTEGER NOT NULL);
CREATE TABLE config (hash TEXT PRIMARY KEY, text BLOB NOT NULL, boot INTEGER NOT NULL);
CREATE TABLE boot (
	boot INTEGER PRIMARY KEY,
	software TEXT NOT NULL,
	config TEXT NOT NULL,
	machine TEXT NOT NULL,
	wall INTEGER,
	sums BLOB
);
CREATE TABLE block (
	id INTEGER PRIMARY KEY,
	boot INTEGER NOT NULL,
	t0 INTEGER NOT NULL,
	t1 INTEGER NOT NULL,
	frames INTEGER NOT NULL,
	channels INTEGER NOT NULL,
	run INTEGER NOT NULL,
	incident INTEGER NOT NULL,
	bytes INTEGER NOT NULL,
	sum INTEGER NOT NULL
);
CREATE UNIQUE INDEX block_time ON block (boot, t0);
CREATE TABLE block_data (block INTEGER PRIMARY KEY, data BLOB NOT NULL);
CREATE TABLE brief (block INTEGER PRIMARY KEY, data BLOB NOT NULL);
CREATE TABLE bucket (
	level INTEGER NOT NULL,
	boot INTEGER NOT NULL,
	start INTEGER NOT NULL,
	data BLOB NOT NULL,
	PRIMARY KEY (level, boot, start)
);
CREATE TABLE run (
	boot INTEGER NOT NULL,
	n INTEGER NOT NULL,
	t0 INTEGER NOT NULL,
	t1 INTEGER NOT NULL,
	ended TEXT NOT NULL,
	summary BLOB NOT NULL,
	PRIMARY KEY (boot, n)
);
CREATE TABLE event (
	boot INTEGER NOT NULL,
	t INTEGER NOT NULL,
	alarm TEXT NOT NULL,
	raised INTEGER NOT NULL,
	incident INTEGER NOT NULL,
	data BLOB NOT NULL,
	sum INTEGER NOT NULL,
	PRIMARY KEY (boot, t, alarm, raised)
);
CREATE TABLE act (
	boot INTEGER NOT NULL,
	n INTEGER NOT NULL,
	t INTEGER NOT NULL,
	data BLOB NOT NULL,
	sum INTEGER NOT NULL,
	PRIMARY KEY (boot, n)
);
CREATE TABLE clock (
	boot INTEGER NOT NULL,
	t INTEGER NOT NULL,
	trust INTEGER NOT NULL,
	wall INTEGER NOT NULL,
	PRIMARY KEY (boot, t, trust)
) WITHOUT ROWID;
CREATE TABLE incident (
	boot INTEGER NOT NULL,
	t0 INTEGER NOT NULL,
	t1 INTEGER NOT NULL,
	cause TEXT NOT NULL,
	PRIMARY KEY (boot, t0, t1, cause)
) WITHOUT ROWID;
CREATE TABLE deletion (
	id INTEGER PRIMARY KEY,
	boot_now INTEGER NOT NULL,
	wall_now INTEGER NOT NULL,
	what TEXT NOT NULL,
	boot INTEGER NOT NULL,
	t0 INTEGER NOT NULL,
	t1 INTEGER NOT NULL,
	bytes INTEGER NOT NULL,
	why TEXT NOT NULL
);
`

// migration2: how the engine's alarms stood when a boot began, where an
// imported boot comes from, digests over verdicts, counters of other records,
// and the chain, see chain.go. The column link names the link that vouches for
// a row; 0 is for what was there before the chain began. Several observations
// of one moment are kept now, the newest last.
const migration2 = `
ALTER TABLE boot ADD COLUMN kept BLOB;
ALTER TABLE boot ADD COLUMN source TEXT NOT NULL DEFAULT '';
ALTER TABLE boot ADD COLUMN link INTEGER NOT NULL DEFAULT 0;
ALTER TABLE config ADD COLUMN link INTEGER NOT NULL DEFAULT 0;
ALTER TABLE block ADD COLUMN proof BLOB;
ALTER TABLE block ADD COLUMN link INTEGER NOT NULL DEFAULT 0;
ALTER TABLE event ADD COLUMN link INTEGER NOT NULL DEFAULT 0;
CREATE INDEX event_link ON event (link);
ALTER TABLE act ADD COLUMN link INTEGER NOT NULL DEFAULT 0;
ALTER TABLE run ADD COLUMN link INTEGER NOT NULL DEFAULT 0;
ALTER TABLE deletion ADD COLUMN link INTEGER NOT NULL DEFAULT 0;
ALTER TABLE clock RENAME TO clock_1;
CREATE TABLE clock (
	boot INTEGER NOT NULL,
	t INTEGER NOT NULL,
	trust INTEGER NOT NULL,
	wall INTEGER NOT NULL,
	link INTEGER NOT NULL DEFAULT 0,
	PRIMARY KEY (boot, t, trust, link)
) WITHOUT ROWID;
INSERT INTO clock (boot, t, trust, wall) SELECT boot, t, trust, wall FROM clock_1;
DROP TABLE clock_1;
CREATE TABLE digest (
	boot INTEGER NOT NULL,
	t0 INTEGER NOT NULL,
	t1 INTEGER NOT NULL,
	frames INTEGER NOT NULL,
	sum BLOB NOT NULL,
	link INTEGER NOT NULL DEFAULT 0,
	PRIMARY KEY (boot, t0)
) WITHOUT ROWID;
CREATE TABLE life (
	record TEXT NOT NULL,
	machine TEXT NOT NULL,
	sums BLOB NOT NULL,
	link INTEGER NOT NULL DEFAULT 0,
	PRIMARY KEY (record, link)
);
CREATE TABLE chain (
	pos INTEGER PRIMARY KEY,
	kind INTEGER NOT NULL,
	boot INTEGER NOT NULL,
	t0 INTEGER NOT NULL,
	t1 INTEGER NOT NULL,
	n INTEGER NOT NULL,
	content BLOB NOT NULL,
	head BLOB NOT NULL
);
` + beginChain

// beginChain makes link 0: what is there already is left to those who trust it.
const beginChain = `INSERT INTO chain SELECT 0, 0, coalesce(max(boot), 0), 0, 0, 0, randomblob(32), zeroblob(32) FROM boot;
`

// migrate brings a database to the version that steps lead to, each in a
// transaction of its own, so that a power cut leaves the version before or
// after. A database of a newer program is refused untouched.
func migrate(ctx context.Context, db *sql.DB, steps []string, software string) error {
	var at int
	if err := db.QueryRowContext(ctx, "PRAGMA user_version").Scan(&at); err != nil {
		return fmt.Errorf("cannot read the version of the record: %w", err)
	}
	if at > len(steps) {
		return fmt.Errorf("cannot use the record: a newer program made it (version %d, known here is %d): update the program", at, len(steps))
	}
	for ; at < len(steps); at++ {
		if err := migrateOne(ctx, db, steps[at], at+1, software); err != nil {
			return fmt.Errorf("cannot bring the record from version %d to %d, it is as before: %w", at, at+1, err)
		}
	}
	return nil
}

func migrateOne(ctx context.Context, db *sql.DB, step string, to int, software string) error {
	return inTx(ctx, db, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, step); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA user_version = %d", to)); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "INSERT INTO version VALUES (?, ?, ?)", to, software, time.Now().UnixNano())
		return err
	})
}

// inTx runs do in a transaction that is undone on an error.
func inTx(ctx context.Context, db *sql.DB, do func(*sql.Tx) error) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := do(tx); err != nil {
		_ = tx.Rollback() // the first error tells more
		return err
	}
	return tx.Commit()
}
