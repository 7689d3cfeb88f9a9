// Package advise answers the questions that come before the start: is this tap
// enough, which hose and nozzle, does this cord do, how far down with the
// unloader, when does the breaker trip, how long may the bypass last.
//
// It owns the reading of the inputs as people write them, the choice of what
// the config fills in, and the sentences of the answer. All physics is below
// rules/, and nothing is computed here but the putting together. It refuses an
// input without a unit or out of range with an error that names the flag and
// the mend, and it never fills in a figure without saying so in the answer.
package advise

import (
	"errors"
	"flag"
	"fmt"

	"headroom/daemon/config"
	"headroom/rules/units"
)

// Caution stands at the end of every answer.
const Caution = "headroom is an aid and no certified safety device. Local codes, the makers' manuals and " +
	"licensed practice decide."

// Topic is one question: a sub-command of "headroom advise".
type Topic struct {
	// Name as typed, Args and Help as printed.
	Name, Args, Help string
	// bind declares the topic's flags.
	bind func(fs *flag.FlagSet) answer
	// fields are the same flags as a form asks for them.
	fields func() []Field
}

// answer computes a topic's advice once its flags are parsed.
type answer func(c *config.Config, sys units.System) (Advice, error)

// Topics returns every question, in the order of the help.
func Topics() []Topic {
	return []Topic{
		{"supply", "-static P -flowing \"Q @ P\"", "is the water supply enough, and what would help", bindSupply, supplyFields},
		{"line", "-line D -hose-length L", "hose and nozzle for a drain line", bindLine, lineFields},
		{"cord", "-gauge G -length L -current I", "what an extension cord does to the motor", bindCord, cordFields},
		{"unloader", "-current I -pressure P", "how far to turn the unloader down, and what it costs", bindUnloader, unloaderFields},
		{"breaker", "-current I", "when the breaker trips", bindBreaker, breakerFields},
		{"heat", "-temp T", "how long the bypass may last", bindHeat, heatFields},
	}
}

// Find returns the topic of a name.
func Find(name string) (Topic, bool) {
	for _, t := range Topics() {
		if t.Name == name {
			return t, true
		}
	}
	return Topic{}, false
}

// Flags are what every topic takes.
type Flags struct {
	// Config is the machine's file; empty for the default config.
	Config string
	// JSON asks for data in place of prose.
	JSON bool
	// Units is US, SI or empty for the config's.
	Units string

	fs     *flag.FlagSet
	answer answer
}

// Bind declares the flags of a topic, and those that every topic takes.
func (t Topic) Bind(fs *flag.FlagSet) *Flags {
	f := &Flags{fs: fs}
	fs.StringVar(&f.Config, "config", "", "config `file` of the machine; without it the default config")
	fs.BoolVar(&f.JSON, "json", false, "print data in SI units")
	fs.StringVar(&f.Units, "units", "", "US or SI; without it what the config says")
	f.answer = t.bind(fs)
	return f
}

// Answer computes the advice, after the flags were parsed. Errors name the flag
// and the mend.
func (f *Flags) Answer() (Advice, error) {
	if f.fs.NArg() > 0 {
		return Advice{}, fmt.Errorf("%q is no flag: quote values with a blank, for example -static \"62 psi\"", f.fs.Arg(0))
	}
	c := config.Default()
	if f.Config != "" {
		var err error
		if c, err = config.Load(f.Config); err != nil {
			return Advice{}, err
		}
	}
	sys := c.Units
	switch f.Units {
	case "":
	case "US", "us":
		sys = units.US
	case "SI", "si":
		sys = units.SI
	default:
		return Advice{}, fmt.Errorf("-units: %q is unknown; write US or SI", f.Units)
	}
	a, err := f.answer(c, sys)
	if err != nil {
		return Advice{}, err
	}
	if f.Config == "" {
		a.Notes = append([]string{"The machine is the invented one of the default config; name yours with -config."}, a.Notes...)
	}
	return a, nil
}

// AnswerFor computes the advice for a machine whose config is at hand, after
// the flags were parsed; Config and Units count for nothing then.
func (f *Flags) AnswerFor(c *config.Config, sys units.System) (Advice, error) {
	return f.answer(c, sys)
}

// errInput is the answer to inputs that are each fine and still refused by the
// physics.
var errInput = errors.New("the inputs are out of the range that is modelled; check each one's unit")
