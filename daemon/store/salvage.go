package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"
)

// tables that are taken over from a damaged database, the small ones first.
var tables = [...]string{
	"boot", "config", "run", "event", "act", "clock", "incident", "deletion", "digest", "life", "chain", "block", "bucket", "brief", "block_data",
}

// chained is the version from which on there is a chain, and what came with it.
const chained = 2

// salvage copies what can be read out of a damaged database, and says in words
// how much that was. Reading goes from both ends of a table, so that one bad
// page costs no more than itself as long as it is the only one.
func salvage(ctx context.Context, db *sql.DB, aside string) (problems []string) {
	if checkHeader(aside) != nil {
		if err := mendHeader(aside); err != nil {
			return []string{"nothing could be taken over: " + err.Error()}
		}
	}
	old, err := openDatabase(aside, true)
	if err != nil {
		return []string{"nothing could be taken over: " + err.Error()}
	}
	defer old.Close() // only read from
	var version int
	if err := old.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err != nil {
		version = chained
	}
	for _, table := range tables {
		if version < chained && (table == "digest" || table == "life" || table == "chain") {
			continue
		}
		n, err := salvageTable(ctx, db, old, table)
		if err != nil {
			problems = append(problems, fmt.Sprintf("of the table %s only %d rows could be taken over: %v", table, n, err))
		}
	}
	if err := numberBoots(ctx, db); err != nil {
		problems = append(problems, err.Error())
	}
	if err := noteDamage(ctx, db, version, problems); err != nil {
		problems = append(problems, err.Error())
	}
	return problems
}

// numberBoots gives a row to every boot that only other tables know of: the next
// boot would else be given its number, and its rows would stand among the old.
func numberBoots(ctx context.Context, db *sql.DB) error {
	_, err := db.ExecContext(ctx, `INSERT OR IGNORE INTO boot (boot, software, config, machine) SELECT boot, '', '', '' FROM (
		SELECT boot FROM block UNION SELECT boot FROM run UNION SELECT boot FROM event UNION SELECT boot FROM act UNION
		SELECT boot FROM clock UNION SELECT boot FROM incident UNION SELECT boot FROM digest UNION SELECT boot FROM bucket
		) WHERE boot > 0`)
	if err != nil {
		return fmt.Errorf("cannot number the boots that were lost: %w", err)
	}
	return nil
}

// noteDamage writes down in the record that it was damaged, so that whoever
// reads it later knows. A chain that the old one lacked begins after what was
// taken over.
func noteDamage(ctx context.Context, db *sql.DB, version int, problems []string) error {
	return inTx(ctx, db, func(tx *sql.Tx) error {
		if version < chained {
			if _, err := tx.ExecContext(ctx, "UPDATE chain SET boot = (SELECT coalesce(max(boot), 0) FROM boot) WHERE pos = 0"); err != nil {
				return err
			}
		}
		l, err := newLinker(ctx, tx)
		if err != nil {
			return err
		}
		var boot int64
		if err := tx.QueryRowContext(ctx, "SELECT coalesce(max(boot), 0) FROM boot").Scan(&boot); err != nil {
			return err
		}
		why := "the database was damaged and put aside"
		if len(problems) > 0 {
			why += "; " + strings.Join(problems, "; ")
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO deletion (boot_now, wall_now, what, boot, t0, t1, bytes, why, link) VALUES (?, ?, ?, 0, 0, 0, 0, ?, ?)`,
			boot, time.Now().UnixNano(), DeletedByDamage, why, l.next())
		if err == nil {
			err = l.end(ctx, LinkDeletions, uint64(boot))
		}
		if err != nil {
			return fmt.Errorf("cannot note the damage: %w", err)
		}
		return nil
	})
}

func salvageTable(ctx context.Context, db, old *sql.DB, table string) (n int, err error) {
	e := inTx(ctx, db, func(tx *sql.Tx) error {
		var first error
		if table == "chain" { // the old beginning names the record
			if _, err := tx.ExecContext(ctx, "DELETE FROM chain"); err != nil {
				return err
			}
		}
		if n, first = copyRows(ctx, tx, old, table, ""); first == nil && (n > 0 || table != "chain") {
			return nil
		}
		more, second := copyRows(ctx, tx, old, table, " ORDER BY "+keys[table])
		n += more
		err = first
		if more == 0 && second != nil {
			err = second
		}
		if table == "chain" && n == 0 {
			_, err := tx.ExecContext(ctx, beginChain)
			return err
		}
		return nil
	})
	if e != nil {
		return 0, e
	}
	return n, err
}

// keys order a table backwards.
var keys = map[string]string{
	"boot": "boot DESC", "config": "rowid DESC", "run": "boot DESC, n DESC",
	"event": "boot DESC, t DESC, alarm DESC, raised DESC", "act": "boot DESC, n DESC",
	"clock": "boot DESC, t DESC, trust DESC", "incident": "boot DESC, t0 DESC, t1 DESC, cause DESC",
	"deletion": "id DESC", "block": "id DESC", "bucket": "level DESC, boot DESC, start DESC",
	"brief": "block DESC", "block_data": "block DESC", "digest": "boot DESC, t0 DESC",
	"life": "record DESC, link DESC", "chain": "pos DESC",
}

// copyRows copies until the end or an error of the old one; n counts new rows.
func copyRows(ctx context.Context, tx *sql.Tx, old *sql.DB, table, order string) (n int, err error) {
	rows, err := old.QueryContext(ctx, "SELECT * FROM "+table+order)
	if err != nil {
		return 0, err
	}
	defer rows.Close() // its error is that of rows.Err
	names, err := rows.Columns()
	if err != nil {
		return 0, err
	}
	values := make([]any, len(names))
	into := make([]any, len(names))
	for i := range values {
		into[i] = &values[i]
	}
	insert := "INSERT OR IGNORE INTO " + table + " (" + strings.Join(names, ", ") + ") VALUES (?" + strings.Repeat(", ?", len(names)-1) + ")"
	for rows.Next() {
		if err := rows.Scan(into...); err != nil {
			return n, err
		}
		res, err := tx.ExecContext(ctx, insert, values...)
		if err != nil {
			continue // a row that the rules of its table forbid is damage too
		}
		if added, err := res.RowsAffected(); err == nil {
			n += int(added)
		}
	}
	return n, rows.Err()
}
