package bench

import (
	"fmt"
	"strings"
)

// Newest is the word for the test that began last.
const Newest = "last"

// Find reads the test that a person names: by its whole name, by a beginning
// that only one test has, or as Newest. The error says which tests a beginning
// fits.
func (s *Store) Find(word string) (*Record, error) {
	if word != Newest && s.Has(word) {
		return s.Load(word)
	}
	all, bad := s.List()
	if word == Newest {
		if len(all) == 0 {
			return nil, fmt.Errorf("there is no test in %s yet", s.folder)
		}
		return all[len(all)-1], nil
	}
	var fit []*Record
	var names []string
	for _, r := range all {
		if word != "" && strings.HasPrefix(r.ID, word) {
			fit, names = append(fit, r), append(names, r.ID)
		}
	}
	switch {
	case len(fit) == 1:
		return fit[0], nil
	case len(fit) > 1:
		return nil, fmt.Errorf("%q may be %s: write more of it", word, strings.Join(names, " or "))
	case len(bad) > 0:
		return nil, fmt.Errorf("there is no test %q that can be read: %w", word, bad[0])
	}
	return s.Load(word)
}
