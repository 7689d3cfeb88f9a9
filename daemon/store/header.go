package store

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
)

// header is how every database of this record begins: the format's name, pages
// of pageBytes, a log written ahead, nothing reserved, and three constants.
// Source: sqlite.org/fileformat2.html, section 1.3.
var header = append([]byte("SQLite format 3\x00"), pageBytes>>8, 0, 2, 2, 0, 64, 32, 32)

// checkHeader looks at those bytes itself, as the library takes some damage
// there for a file that it may not write to.
func checkHeader(path string) error {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("cannot open the record: %w", err)
	}
	defer f.Close() // only read from
	head := make([]byte, len(header))
	n, err := io.ReadFull(f, head)
	switch {
	case n == 0 && errors.Is(err, io.EOF):
		return nil // about to be made
	case errors.Is(err, io.ErrUnexpectedEOF):
		return fmt.Errorf("%w: it is cut off", errDamaged)
	case err != nil:
		return fmt.Errorf("cannot read the record: %w", err)
	}
	// Before the first switch to the log written ahead the two versions are 1.
	fresh := bytes.Replace(header, []byte{pageBytes >> 8, 0, 2, 2}, []byte{pageBytes >> 8, 0, 1, 1}, 1)
	if !bytes.Equal(head, header) && !bytes.Equal(head, fresh) {
		return fmt.Errorf("%w: its first bytes are wrong", errDamaged)
	}
	return nil
}

// mendHeader puts the constant bytes right in a file that was put aside, so
// that the rest can be read.
func mendHeader(path string) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	_, err = f.WriteAt(header, 0)
	return errors.Join(err, f.Close())
}
