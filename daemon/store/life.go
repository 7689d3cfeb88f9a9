package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"headroom/daemon/store/codec"
)

// LifeOf are the counters that a machine came to in one record.
type LifeOf struct {
	// Record is the name of the record that counted, see RecordName, and
	// Machine what the machine was called there.
	Record  string `json:"record"`
	Machine string `json:"machine"`
	Sums    Sums   `json:"sums"`
}

// Life adds up the sums of all boots of this machine, and those that were
// taken over from other records: the machine's counters. They outlive the
// frames and runs that they were made of. Neither imported boots count nor
// practice on a simulator or a recording.
func (v *view) Life(ctx context.Context) (life Sums, err error) {
	parts, err := v.LifeParts(ctx)
	for i := range parts {
		life.Add(&parts[i].Sums)
	}
	return life, err
}

// LifeParts returns the counters by the record that counted, this one first.
func (v *view) LifeParts(ctx context.Context) (parts []LifeOf, err error) {
	s, err := v.snapshot(ctx)
	if err != nil {
		return nil, err
	}
	defer s.end()
	own := LifeOf{}
	if own.Record, err = recordName(ctx, s); err != nil {
		return nil, err
	}
	if own.Sums, own.Machine, err = s.ownLife(ctx, Source.Counts); err != nil {
		return nil, fmt.Errorf("cannot read the counters: %w", err)
	}
	others, err := otherLives(ctx, s)
	if err != nil {
		return nil, fmt.Errorf("cannot read the counters that were taken over: %w", err)
	}
	return append([]LifeOf{own}, others...), nil
}

// Practice adds up the boots on a simulator or a recording that were made
// here: they are nobody's life.
func (v *view) Practice(ctx context.Context) (sums Sums, err error) {
	s, err := v.snapshot(ctx)
	if err != nil {
		return sums, err
	}
	defer s.end()
	sums, _, err = s.ownLife(ctx, func(from Source) bool { return !from.Imported() && from.Readings.Practice() })
	if err != nil {
		return sums, fmt.Errorf("cannot read the counters: %w", err)
	}
	return sums, nil
}

// ownLife adds up the boots with a source of that kind.
func (s *snapshot) ownLife(ctx context.Context, counts func(Source) bool) (life Sums, machine string, err error) {
	rows, err := s.QueryContext(ctx, "SELECT boot, machine, sums, source FROM boot ORDER BY boot")
	if err != nil {
		return life, "", err
	}
	defer rows.Close() // its error is that of rows.Err
	for rows.Next() {
		var boot int64
		var name, source string
		var text []byte
		if err := rows.Scan(&boot, &name, &text, &source); err != nil {
			return life, "", err
		}
		if !counts(sourceOf(source)) {
			continue
		}
		if name != "" {
			machine = name
		}
		if uint64(boot) == s.live.boot && s.live.state != nil {
			life.Add(&s.live.state.Sums) // newer than what is in the database
			continue
		}
		if text == nil {
			continue // none yet
		}
		var one Sums
		if err := json.Unmarshal(text, &one); err != nil {
			return life, "", fmt.Errorf("boot %d: %w", boot, err)
		}
		life.Add(&one)
	}
	return life, machine, rows.Err()
}

// otherLives are those of other records, of each as it was told last.
func otherLives(ctx context.Context, q querier) (out []LifeOf, err error) {
	rows, err := q.QueryContext(ctx, "SELECT record, machine, sums FROM life ORDER BY record, link")
	if err != nil {
		return nil, err
	}
	defer rows.Close() // its error is that of rows.Err
	for rows.Next() {
		var l LifeOf
		var text []byte
		if err := rows.Scan(&l.Record, &l.Machine, &text); err != nil {
			return nil, err
		}
		if err := json.Unmarshal(text, &l.Sums); err != nil {
			return nil, fmt.Errorf("record %s: %w", l.Record, err)
		}
		if n := len(out); n > 0 && out[n-1].Record == l.Record {
			out[n-1] = l
		} else {
			out = append(out, l)
		}
	}
	return out, rows.Err()
}

// lifeFormat marks a file of counters.
const lifeFormat = "headroom life counters 1"

// LifeFile is a machine's counters in a file: what survives when a record is
// begun anew, or a computer is replaced.
type LifeFile struct {
	// Format is the file's own mark; WriteLife sets it.
	Format string   `json:"format"`
	Parts  []LifeOf `json:"parts"`
	// Book is what else belongs to the machine's life and is kept beside the
	// record, as JSON that this package doesn't look into; may be absent.
	Book json.RawMessage `json:"book,omitempty"`
	// Check is a checksum over parts and book.
	Check uint32 `json:"check"`
}

// EncodeLife writes counters down, and a book beside them; nil for none.
func EncodeLife(parts []LifeOf, book []byte) ([]byte, error) {
	f := LifeFile{Format: lifeFormat, Parts: parts, Book: book}
	var err error
	if f.Check, err = f.sum(); err != nil {
		return nil, err
	}
	text, err := json.MarshalIndent(f, "", "  ")
	return append(text, '\n'), err
}

// sum is the checksum, over the text without its spaces.
func (f *LifeFile) sum() (uint32, error) {
	text, err := json.Marshal(LifeFile{Parts: f.Parts, Book: f.Book})
	if err != nil {
		return 0, fmt.Errorf("cannot write the counters down: %w", err)
	}
	return codec.Sum(text), nil
}

// DecodeLife reads what EncodeLife wrote, and refuses what was changed since.
func DecodeLife(text []byte) (f LifeFile, err error) {
	if err := json.Unmarshal(text, &f); err != nil {
		return f, fmt.Errorf("it is no file of counters: %w", err)
	}
	if f.Format != lifeFormat {
		return f, fmt.Errorf("it is no file of counters, or one of a newer program: it begins with %.40q and not with %q", f.Format, lifeFormat)
	}
	sum, err := f.sum()
	if err != nil {
		return f, err
	}
	if sum != f.Check {
		return f, errors.New("its checksum is wrong: it was changed or damaged")
	}
	for i := range f.Parts {
		if err := f.Parts[i].check(); err != nil {
			return f, err
		}
	}
	return f, nil
}

// check refuses counters that can't be.
func (l *LifeOf) check() error {
	if l.Record == "" {
		return errors.New("counters of no record")
	}
	bad := l.Sums.WaterM3 < 0 || l.Sums.FlowS < 0 || l.Sums.EnergyJ < 0
	for _, x := range l.Sums.InStateS {
		bad = bad || x < 0
	}
	for _, x := range l.Sums.Exposures {
		bad = bad || x.BeyondWarnS < 0 || x.BeyondActS < 0 || x.Severity < 0 || x.WatchedS < 0 || x.BlindS < 0
	}
	if bad {
		return fmt.Errorf("the counters of record %s go below zero", l.Record)
	}
	return nil
}

// Taken is what became of one part of a file of counters.
type Taken struct {
	LifeOf
	// Why it was not taken over; empty where it was.
	Why string
}

// ImportLife takes counters of other records over into the record in dir. The
// same file again changes nothing: what this record has counted itself is left
// out, and of each other record the counters that have come further stand.
// Another program may be recording meanwhile.
func ImportLife(ctx context.Context, dir string, parts []LifeOf, software string) (taken []Taken, err error) {
	o := Options{Info: Info{Software: software}}
	o.setDefaults()
	db, err := openForImport(ctx, dir, &o)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	err = inTx(ctx, db, func(tx *sql.Tx) error {
		own, err := recordName(ctx, tx)
		if err != nil {
			return err
		}
		there, err := otherLives(ctx, tx)
		if err != nil {
			return err
		}
		l, err := newLinker(ctx, tx)
		if err != nil {
			return err
		}
		for i := range parts {
			t := Taken{parts[i], why(&parts[i], own, there)}
			if t.Why == "" {
				if err := putLife(ctx, tx, l, &parts[i]); err != nil {
					return err
				}
			}
			taken = append(taken, t)
		}
		return l.end(ctx, LinkLife, 0)
	})
	if err != nil {
		return nil, fmt.Errorf("cannot take the counters over: %w", err)
	}
	return taken, nil
}

// why says why a part is left out; empty where it isn't.
func why(p *LifeOf, own string, there []LifeOf) string {
	if p.Record == own {
		return "this record counted it itself"
	}
	for i := range there {
		if there[i].Record == p.Record && there[i].Sums.Frames >= p.Sums.Frames {
			return "it was taken over before"
		}
	}
	return ""
}

func putLife(ctx context.Context, tx *sql.Tx, l *linker, p *LifeOf) error {
	text, err := json.Marshal(&p.Sums)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "INSERT OR REPLACE INTO life (record, machine, sums, link) VALUES (?, ?, ?, ?)", p.Record, p.Machine, text, l.next())
	return err
}
