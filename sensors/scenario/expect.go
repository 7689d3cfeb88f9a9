package scenario

import (
	"fmt"
	"strings"
	"time"

	"headroom/rules/frame"
)

// Expect is one alarm that must come, or may.
type Expect struct {
	// Rule is the rule's name, or "sensor" for the alarm of Channel.
	Rule    string
	Channel frame.Channel
	// Stage is "warn" or "act"; empty for either. A sensor's alarm has none.
	Stage string
	// Under is the alarm that this one is a consequence of, written like
	// String does; empty for a root, which calls for a person by itself.
	Under string
	// From and To bound the moment when it is raised.
	From, To time.Duration
	// ClearedBy is when it must be gone; 0 where nobody asks.
	ClearedBy time.Duration
	// Maybe marks an alarm that may come at any time but need not. Each use
	// needs its reason in the file.
	Maybe bool
}

// String returns the alarm's name as written, for example "inlet_low.warn".
func (e *Expect) String() string {
	switch {
	case e.Rule == "sensor":
		return "sensor." + e.Channel.String()
	case e.Stage == "":
		return e.Rule
	}
	return e.Rule + "." + e.Stage
}

// Covers reports whether an alarm, written like String does, is this one.
func (e *Expect) Covers(alarm string) bool {
	return alarm == e.String() || e.Stage == "" && e.Rule != "sensor" && strings.HasPrefix(alarm, e.Rule+".")
}

// allows reports whether the alarm may be raised at that time by this line.
func (e *Expect) allows(alarm string, at time.Duration) bool {
	return e.Covers(alarm) && (e.Maybe || at >= e.From && at <= e.To)
}

// form is how a line is written, for messages.
const form = `"%s between 1:10 and 1:25", with "under CAUSE" before "between" for a consequence and "cleared by 2:10" after it; or "%s maybe"`

// UnmarshalText reads a line such as
// "npsh_margin.act under inlet_low.act between 1:10 and 1:25 cleared by 2:10"
// or "cavitation maybe".
func (e *Expect) UnmarshalText(text []byte) (err error) {
	w := strings.Fields(string(text))
	if len(w) == 0 {
		return fmt.Errorf(`an expected alarm is empty; write for example "inlet_low.warn between 1:10 and 1:25"`)
	}
	*e = Expect{}
	if err := e.readName(w[0]); err != nil {
		return err
	}
	rest := w[1:]
	if len(rest) >= 2 && rest[0] == "under" {
		var cause Expect
		if err := cause.readName(rest[1]); err != nil {
			return err
		}
		e.Under, rest = cause.String(), rest[2:]
	}
	switch {
	case len(rest) == 1 && rest[0] == "maybe":
		e.Maybe = true
		return nil
	case len(rest) == 4 && rest[0] == "between" && rest[2] == "and":
		return e.readTimes(w[0], rest[1], rest[3], "")
	case len(rest) == 7 && rest[0] == "between" && rest[2] == "and" && rest[4] == "cleared" && rest[5] == "by":
		return e.readTimes(w[0], rest[1], rest[3], rest[6])
	}
	return fmt.Errorf("%q: write "+form, text, w[0], w[0])
}

func (e *Expect) readName(name string) error {
	rule, rest, dotted := strings.Cut(name, ".")
	e.Rule = rule
	switch {
	case rule == "sensor":
		c, ok := frame.ByName(rest)
		if !ok {
			return fmt.Errorf("%q: there is no channel %q; write for example sensor.flow", name, rest)
		}
		e.Channel = c
	case strings.Trim(rule, "abcdefghijklmnopqrstuvwxyz_") != "" || rule == "":
		return fmt.Errorf("%q is not the name of an alarm; write for example inlet_low.warn", name)
	case dotted && rest != "warn" && rest != "act":
		return fmt.Errorf("%q: a stage is warn or act; write for example %s.warn", name, rule)
	default:
		e.Stage = rest
	}
	return nil
}

func (e *Expect) readTimes(name, from, to, cleared string) (err error) {
	if e.From, err = parsePoint(from); err != nil {
		return err
	}
	if e.To, err = parsePoint(to); err != nil {
		return err
	}
	if e.To < e.From {
		return fmt.Errorf("%s: %s lies before %s; swap them", name, to, from)
	}
	if cleared == "" {
		return nil
	}
	if e.ClearedBy, err = parsePoint(cleared); err == nil && e.ClearedBy < e.From {
		err = fmt.Errorf("%s: it cannot be cleared before it may come", name)
	}
	return err
}
