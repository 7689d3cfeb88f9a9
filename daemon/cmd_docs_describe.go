package main

import (
	"context"
	"flag"
	goio "io"
	"slices"
	"strings"

	"headroom/daemon/advise"
	"headroom/daemon/manual"
	"headroom/rules/frame"
)

// describer is an output for errors that is told of a flag set in place of
// getting the usage as text. A command that is run with -h into it describes
// itself and does nothing else.
type describer struct {
	goio.Writer
	command manual.Command
}

// sees takes what flags would print.
func (d *describer) sees(fs *flag.FlagSet, args string) {
	d.command.Name, d.command.Args, d.command.Flags = fs.Name(), args, nil
	fs.VisitAll(func(f *flag.Flag) {
		arg, usage := flag.UnquoteUsage(f)
		d.command.Flags = append(d.command.Flags, manual.Flag{Name: f.Name, Arg: arg, Usage: usage, Default: shownDefault(f)})
	})
}

// shownDefault leaves out what says nothing: no text, zero, false.
func shownDefault(f *flag.Flag) string {
	switch f.DefValue {
	case "", "0", "false", "0s":
		return ""
	}
	return f.DefValue
}

// describe runs one command with -h. One without flags keeps the first word as
// its name.
func describe(words ...string) *describer {
	d := &describer{Writer: goio.Discard, command: manual.Command{Name: words[0]}}
	ended, end := context.WithCancel(context.Background())
	end()
	run(ended, append(slices.Clone(words), "-h"), stdio{strings.NewReader(""), goio.Discard, d})
	return d
}

// argumentWords takes a command's arguments apart, as the help prints them:
// words to type, for places the words that fit there, and whether files do.
func argumentWords(args string) (words []string, files bool) {
	value := false
	for _, w := range strings.Fields(args) {
		w = strings.Trim(w, "[].,")
		switch {
		case w == "|":
		case strings.HasPrefix(w, "-"):
			value = true
			continue
		case w == "flags", value:
		case w == strings.ToUpper(w):
			words = append(words, placeWords(w)...)
			files = files || w == "FILE"
		default:
			for _, alternative := range strings.Split(w, "|") {
				if alternative = strings.Trim(alternative, "."); alternative != "" {
					words = append(words, alternative)
				}
			}
		}
		value = false
	}
	return words, files
}

// commandWords are the words of a command's help, or all of them where the
// help breaks off with dots.
func commandWords(name, args string) (words []string, files bool) {
	words, files = argumentWords(args)
	if !strings.Contains(args, "|...") {
		return words, files
	}
	if name == "record" {
		words = nil
		for _, c := range recordCommands {
			words = append(words, c.name)
		}
	}
	return words, files
}

// placeWords are the words that fit a place.
func placeWords(place string) (words []string) {
	switch place {
	case "TOPIC":
		for _, t := range advise.Topics() {
			words = append(words, t.Name)
		}
	case "CHANNEL":
		for c := range frame.NumChannels {
			if !c.Digital() {
				words = append(words, c.String())
			}
		}
	}
	return words
}

// subHelp is the help of a command's word, where there is more than its
// command's own.
func subHelp(command, word string) string {
	if command == "advise" {
		if t, ok := advise.Find(word); ok {
			return t.Help
		}
	}
	return ""
}
