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
	// From and To bound the moment when it is raised first.
	From, To time.Duration
	// ClearedBy is when it must be gone for good; 0 where nobody asks.
	ClearedBy time.Duration
	// Maybe marks an alarm that may come at any time but need not.
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

// UnmarshalText reads a line such as
// "inlet_low.warn between 1:10 and 1:25 cleared by 2:10" or "cavitation maybe".
func (e *Expect) UnmarshalText(text []byte) error {
	w := strings.Fields(string(text))
	if len(w) == 0 {
		return fmt.Errorf(`an expected alarm is empty; write for example "inlet_low.warn between 1:10 and 1:25"`)
	}
	*e = Expect{}
	if err := e.readName(w[0]); err != nil {
		return err
	}
	if len(w) == 2 && w[1] == "maybe" {
		e.Maybe = true
		return nil
	}
	if len(w) != 5 && len(w) != 8 || w[1] != "between" || w[3] != "and" || len(w) == 8 && (w[5] != "cleared" || w[6] != "by") {
		return fmt.Errorf(`%q: write "%s between 1:10 and 1:25", then maybe "cleared by 2:10"; or "%s maybe"`, text, w[0], w[0])
	}
	return e.readTimes(w)
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

func (e *Expect) readTimes(w []string) (err error) {
	if e.From, err = parsePoint(w[2]); err != nil {
		return err
	}
	if e.To, err = parsePoint(w[4]); err != nil {
		return err
	}
	if e.To < e.From {
		return fmt.Errorf("%s: %s lies before %s; swap them", w[0], w[4], w[2])
	}
	if len(w) < 8 {
		return nil
	}
	if e.ClearedBy, err = parsePoint(w[7]); err == nil && e.ClearedBy < e.From {
		err = fmt.Errorf("%s: it cannot be cleared before it may come", w[0])
	}
	return err
}
