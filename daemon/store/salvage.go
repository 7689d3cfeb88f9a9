package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
)

// tables that are taken over from a damaged database, the small ones first.
var tables = [...]string{
	"boot", "config", "run", "event", "act", "clock", "incident", "deletion", "block", "bucket", "brief", "block_data",
}

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
	for _, table := range tables {
		n, err := salvageTable(ctx, db, old, table)
		if err != nil {
			problems = append(problems, fmt.Sprintf("of the table %s only %d rows could be taken over: %v", table, n, err))
		}
	}
	return problems
}

func salvageTable(ctx context.Context, db, old *sql.DB, table string) (n int, err error) {
	e := inTx(ctx, db, func(tx *sql.Tx) error {
		var first error
		if n, first = copyRows(ctx, tx, old, table, ""); first == nil {
			return nil
		}
		more, second := copyRows(ctx, tx, old, table, " ORDER BY "+keys[table])
		n += more
		err = first
		if more == 0 && second != nil {
			err = second
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
	"brief": "block DESC", "block_data": "block DESC",
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
	insert := "INSERT OR IGNORE INTO " + table + " VALUES (?" + strings.Repeat(", ?", len(names)-1) + ")"
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
