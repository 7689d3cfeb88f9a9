package main

import (
	"context"
	"fmt"

	"headroom/daemon/advise"
)

// cmdAdvise answers one of the questions that come before the start.
func cmdAdvise(_ context.Context, args []string, io stdio) error {
	if len(args) == 0 || args[0] == "-h" || args[0] == "-help" || args[0] == "--help" {
		printTopics(io)
		if len(args) == 0 {
			return errUsage
		}
		return nil
	}
	topic, ok := advise.Find(args[0])
	if !ok {
		fmt.Fprintf(io.err, "headroom: advise knows no %q\n", args[0])
		printTopics(io)
		return errUsage
	}
	fs := flags("advise "+topic.Name, topic.Args+" [flags]", io)
	f := topic.Bind(fs)
	if err := parse(fs, args[1:]); err != nil {
		return err
	}
	a, err := f.Answer()
	if err != nil {
		return fmt.Errorf("cannot advise on %s: %w", topic.Name, err)
	}
	if f.JSON {
		return a.JSON(io.out)
	}
	return a.WriteText(io.out)
}

func printTopics(io stdio) {
	fmt.Fprint(io.err, "usage: headroom advise TOPIC [flags]\n\n")
	for _, t := range advise.Topics() {
		fmt.Fprintf(io.err, "  %-8s %-32s %s\n", t.Name, t.Args, t.Help)
	}
	fmt.Fprint(io.err, "\nheadroom advise TOPIC -h prints the topic's flags. Write values with their units, quoted: \"62 psi\".\n")
}
