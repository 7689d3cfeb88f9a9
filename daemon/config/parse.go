package config

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// maxFile is how large a config file may be; the whole default file is a
// fiftieth of it.
const maxFile = 1 << 20

// Parse reads a config from data and returns every problem with it, by line;
// name stands in the problems as the file. The config is never nil: where the
// file is silent or wrong the default stands. It may be used when no problem
// is a mistake, that is, when Mistakes(problems) is empty.
func Parse(name string, data []byte) (*Config, []Problem) {
	d := newDecoder(name)
	if len(data) > maxFile {
		d.report(position{1, 1}, "", "is larger than 1 MB and no config", "name the right file")
		data = nil
	}
	text := bytes.TrimPrefix(data, []byte("\uFEFF")) // a mark that some editors put in front
	doc := read(text)
	d.underlay(wantedGround(doc))
	d.overlay(doc)
	for _, f := range doc.faults {
		d.report(f.at, "", "is no TOML: "+f.text, "a line is [section], key = value or # comment; texts stand in quotes")
	}
	if len(doc.faults) == 0 {
		d.guard(text)
	}
	if d.full() {
		d.report(position{1, 1}, "", fmt.Sprintf("has more than %d mistakes, and not all are listed", maxProblems), "mend these first")
	}
	d.finish(len(doc.faults) == 0 && !d.full())
	d.cfg.Hash = sha256.Sum256(data)
	sortProblems(d.problems)
	return d.cfg, d.problems
}

// ground is what lies under a file's own settings.
type ground struct {
	// bare: nothing is fitted and no rule is on.
	bare bool
	// simulated: the readings will be the invented machine's.
	simulated bool
}

// invented reports whether the plate of the invented machine holds where the
// file is silent. Over a real machine's readings it must not: a pump would be
// judged by another pump's figures, and nobody would see it.
func (g ground) invented() bool { return g.simulated && !g.bare }

// wantedGround looks ahead for the keys that decide what lies under all
// others. A file that maps the columns of a recording has real readings unless
// it says that they are simulated.
func wantedGround(doc document) ground {
	g, said, maps := ground{}, false, false
	for _, l := range doc.leaves {
		switch {
		case l.path == "base" && l.value.shape == aText:
			g.bare = l.value.text == "bare"
		case l.path == "simulator.on" && l.value.shape == aBoolean:
			g.simulated, said = l.value.flag, true
		case strings.HasPrefix(l.path, "csv.column["):
			maps = true
		}
	}
	if !said {
		g.simulated = !maps && !g.bare
	}
	return g
}

// guard has the library read the whole file once more by all rules of TOML, so
// that what is accepted here is a file that every other program accepts too.
func (d *decoder) guard(text []byte) {
	err := toml.Unmarshal(text, &map[string]any{})
	if err == nil {
		return
	}
	at := position{1, 1}
	var where *toml.DecodeError
	if errors.As(err, &where) {
		at.line, at.column = where.Position()
	}
	told := slices.ContainsFunc(d.problems, func(p Problem) bool { return p.Line == at.line })
	if !told {
		d.report(at, "", "is no TOML: "+strings.TrimPrefix(err.Error(), "toml: "), "a key or section may be written once, in one way")
	}
}

// Load reads the config file at path. The error is an *Error with every
// mistake of the file, or says why the file cannot be read. Notes stand in the
// config's Remarks.
func Load(path string) (*Config, error) {
	cfg, _, err := LoadText(path)
	return cfg, err
}

// LoadText is Load with the very text that the config was read from, for a
// record that must hold what judged it.
func LoadText(path string) (*Config, []byte, error) {
	data, err := readLimited(path)
	if err != nil {
		return nil, nil, fmt.Errorf("cannot read the config: %w; name an existing file, or write one with the defaults", err)
	}
	cfg, problems := Parse(path, data)
	if len(Mistakes(problems)) > 0 {
		return nil, nil, &Error{path, problems}
	}
	for _, p := range problems {
		cfg.Remarks = append(cfg.Remarks, p.String())
	}
	return cfg, data, nil
}

// readLimited reads no more than Parse takes, even from an endless file.
func readLimited(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, maxFile+1))
}
