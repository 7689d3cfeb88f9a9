// Package manual writes what people and shells read about the commands: the
// manual pages headroom(1) and headroom.toml(5), and the completions of bash,
// zsh and fish. All of it comes from the commands' own flags and from the
// schema of the config, so that nothing can be described that isn't there. It
// refuses to know a command by name, to read a command line and to write a
// file: it turns a description into texts, the same texts for the same
// description.
package manual

import (
	"slices"
	"strings"
	"time"
)

// Program is what is described.
type Program struct {
	// Version as printed by "headroom version".
	Version string
	// Date is the pages' date.
	Date time.Time
	// Commands in the order of the help; a command stands before those that
	// begin with its words.
	Commands []Command
}

// Command is one command that can be typed.
type Command struct {
	// Name is all its words, "record export"; Args and Help as in the help.
	Name, Args, Help string
	Flags            []Flag
	// Words may stand where an argument goes, beside the commands that begin
	// with this one's name.
	Words []string
	// Files is set where arguments are files.
	Files bool
}

// Flag is one flag of a command.
type Flag struct {
	// Name without the dash; Arg is what its value is called, empty for a
	// switch; Usage says what it does.
	Name, Arg, Usage string
	// Default is empty for none.
	Default string
}

// takes is what a flag's value can be completed with.
type takes uint8

const (
	nothing takes = iota
	anything
	files
	folders
)

func (f *Flag) takes() takes {
	switch strings.ToLower(f.Arg) {
	case "":
		return nothing
	case "file":
		return files
	case "folder", "dir":
		return folders
	}
	return anything
}

// under are the words that make a longer command of a name; "" is the program.
func (p *Program) under(name string) (words []string) {
	for i := range p.Commands {
		last := p.Commands[i].Name
		if name != "" {
			rest, ok := strings.CutPrefix(last, name+" ")
			if !ok {
				continue
			}
			last = rest
		}
		if !strings.Contains(last, " ") {
			words = append(words, last)
		}
	}
	return words
}

// next is every word that may follow a command's name, no flag.
func (p *Program) next(c *Command) []string {
	return append(p.under(c.Name), c.Words...)
}

// implied is the command that is meant when none is typed.
const implied = "run"

// root is the command line before any command's word: it takes the implied
// command's flags.
func (p *Program) root() Command {
	c := Command{}
	if i := slices.IndexFunc(p.Commands, func(c Command) bool { return c.Name == implied }); i >= 0 {
		c.Flags = p.Commands[i].Flags
	}
	return c
}
