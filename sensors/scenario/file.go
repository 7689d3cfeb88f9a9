package scenario

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"headroom/sensors/plant"
)

// file is the TOML as it is written.
type file struct {
	Title    string   `toml:"title"`
	Invented bool     `toml:"invented"`
	Seed     uint64   `toml:"seed"`
	End      point    `toml:"end"`
	Machine  machine  `toml:"machine"`
	Timeline []entry  `toml:"timeline"`
	Expect   []Expect `toml:"expect"`
	// Config and Baseline are what the machine's own config differs by.
	Config   map[string]any `toml:"config"`
	Baseline []Worn         `toml:"baseline"`
}

// point is a point in time in a file.
type point struct{ d time.Duration }

// UnmarshalText reads m:ss.
func (p *point) UnmarshalText(text []byte) (err error) {
	p.d, err = parsePoint(string(text))
	return err
}

// maxFile bounds a file's size, so that a wrong path can't eat the memory.
const maxFile = 1 << 20

// Load reads a scenario from a file system.
func Load(fsys fs.FS, name string) (*Scenario, error) {
	f, err := fsys.Open(name)
	if err != nil {
		return nil, fmt.Errorf("cannot open scenario %s: %w", name, err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxFile+1))
	if err != nil {
		return nil, fmt.Errorf("cannot read scenario %s: %w", name, err)
	}
	return Parse(name, data)
}

// Parse reads a scenario. Its errors read "name:line: what is wrong and what
// to write instead".
func Parse(name string, data []byte) (*Scenario, error) {
	if len(data) > maxFile {
		return nil, fmt.Errorf("%s:1: a scenario of more than %d bytes is no scenario", name, maxFile)
	}
	var f file
	dec := toml.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&f); err != nil {
		return nil, located(name, err)
	}
	s, at, err := f.build(name)
	if err != nil {
		return nil, fmt.Errorf("%s:%d: %w", name, lineOf(data, at), err)
	}
	return s, nil
}

// located puts file and line before the library's message.
func located(name string, err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		e := &strict.Errors[0]
		row, _ := e.Position()
		return fmt.Errorf("%s:%d: there is no setting %q; remove it or mend its name", name, row, strings.Join(e.Key(), "."))
	}
	var decode *toml.DecodeError
	if errors.As(err, &decode) {
		row, _ := decode.Position()
		return fmt.Errorf("%s:%d: %s", name, row, strings.TrimPrefix(decode.Error(), "toml: "))
	}
	return fmt.Errorf("%s:1: cannot read the scenario: %w", name, err)
}

// lineOf finds the line on which a text stands, 1 when it stands nowhere.
func lineOf(data []byte, text string) int {
	i := bytes.Index(data, []byte(text))
	if text == "" || i < 0 {
		return 1
	}
	return 1 + bytes.Count(data[:i], []byte("\n"))
}

// build checks what only the whole file can tell; at is the text to which an
// error belongs.
func (f *file) build(name string) (s *Scenario, at string, err error) {
	switch {
	case f.Title == "":
		return nil, "", fmt.Errorf(`the scenario has no title; add title = "..."`)
	case !f.Invented:
		return nil, "", fmt.Errorf("only invented jobs belong here; add invented = true")
	case f.End.d <= 0:
		return nil, "end", fmt.Errorf(`the scenario has no end; add for example end = "3:00"`)
	}
	s = &Scenario{Name: name, Title: f.Title, Seed: f.Seed, Duration: f.End.d, Expects: f.Expect}
	if s.Machine, s.Start, err = f.Machine.build(); err != nil {
		return nil, "[machine]", err
	}
	if _, err := plant.New(s.Machine); err != nil {
		return nil, "[machine]", err
	}
	s.Baseline = f.Baseline
	if len(f.Config) > 0 {
		if s.Config, err = toml.Marshal(f.Config); err != nil {
			return nil, "[config", fmt.Errorf("cannot take the config's part: %w", err)
		}
	}
	last := time.Duration(0)
	for i := range f.Timeline {
		e := &f.Timeline[i]
		if e.at < last {
			return nil, e.text, fmt.Errorf("%q stands after a later line; put the timeline in order", e.text)
		}
		if e.at >= s.Duration {
			return nil, e.text, fmt.Errorf("%q comes after the end at %s; move the end", e.text, clock(s.Duration))
		}
		last = e.at
		if e.isFault {
			s.Faults = append(s.Faults, e.fault)
		} else {
			s.Steps = append(s.Steps, e.step)
		}
	}
	at, err = s.checkExpects()
	return s, at, err
}

// checkExpects refuses what could never be found.
func (s *Scenario) checkExpects() (at string, err error) {
	for i := range s.Expects {
		e := &s.Expects[i]
		if e.From >= s.Duration || e.ClearedBy > s.Duration {
			return e.String(), fmt.Errorf("the alarm %s is expected after the end at %s; move the end", e, clock(s.Duration))
		}
		twice := func(o Expect) bool {
			return o.String() == e.String() && (o.Maybe || e.Maybe || o.From <= e.To && e.From <= o.To)
		}
		if slices.ContainsFunc(s.Expects[:i], twice) {
			return e.String(), fmt.Errorf("the alarm %s is listed twice for the same time; one window is enough", e)
		}
	}
	return "", nil
}
