// Command headroom watches a drain-cleaning jetter's pump: it reads the water
// and the current, says how much room is left to each limit and what to do,
// records what happened and serves a local dashboard.
//
// This package only parses the command line and wires parts together: each
// command is one file here and stays short. The program itself is a value in
// daemon/app, and everything that can be tested without a command line lives
// below daemon/.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], stdio{os.Stdin, os.Stdout, os.Stderr}))
}

// stdio is what a command may read and write.
type stdio struct {
	in       io.Reader
	out, err io.Writer
}

// The exit codes.
const (
	exitOK    = 0
	exitError = 1
	exitUsage = 2
)

// command is one word on the command line.
type command struct {
	name, args, help string
	run              func(ctx context.Context, args []string, io stdio) error
}

// commands lists every command, in the order of the help.
func commands() []command {
	return []command{
		{"run", "[flags]", "watch, record and serve the dashboard; this is also what no command does", cmdRun},
		{"replay", "[flags] FILE...", "run recordings through the engine and say what it made of them", cmdReplay},
		{"csv", "FILE", "propose a map of the columns of somebody else's recording", cmdCSV},
		{"check", "FILE...", "name every mistake in config files", cmdCheck},
		{"config", "", "print the default config, to copy and edit", cmdConfig},
		{"record", "list|export|import|...", "list what was recorded, take parts out and in, check that it is whole", cmdRecord},
		{"review", "[flags] [RUN]", "tell in words what happened in a run, and what the record can not tell", cmdReview},
		{"whatif", "[flags] [RUN]", "run it once more under other settings and compare the alarms", cmdWhatif},
		{"report", "[flags]", "write the printable report of a run, as HTML or PDF", cmdReport},
		{"advise", "TOPIC [flags]", "before the start: supply, line, cord, unloader, breaker, heat", cmdAdvise},
		{"bench", "pumps|run|resume|list|show|certificate|compare|trend|accept-baseline", "prove a pump: run a test, show it, certify it, compare it", cmdBench},
		{"physics", "[-check FILE]", "print what is computed and what it was compared with", cmdPhysics},
		{"pin", "new", "draw the PIN that changes on the dashboard need", cmdPIN},
		{"service", "[done TASK]", "what is due, and a note of what was done", cmdService},
		{"handbook", "[-check FILE]", "print what every alarm means, when it comes and what to do", cmdHandbook},
		{"prometheus", "alerts|dashboard [flags]", "write alert rules, their tests and a dashboard for a Prometheus server", cmdPrometheus},
		{"scan", "[-root DIR]", "list buses, sensors, GPIO lines and ports, and propose a config", cmdScan},
		{"live", "-config FILE [-once]", "show what every sensor reads, for the day of wiring", cmdLive},
		{"calibrate", "CHANNEL -config FILE", "compare a channel with a reference and correct it", cmdCalibrate},
		{"docs", "[-date DAY] FOLDER", "write the manual pages and the completions of shells", cmdDocs},
		{"version", "", "print the version", cmdVersion},
		{"help", "[COMMAND]", "print this, or a command's flags", cmdHelp},
	}
}

// errUsage marks an error of the command line; its text was printed already.
var errUsage = errors.New("usage")

// run executes one command line and returns the exit code.
func run(ctx context.Context, args []string, io stdio) int {
	if len(args) == 1 {
		switch args[0] {
		case "-h", "-help", "--help":
			args = []string{"help"}
		case "-version", "--version":
			args = []string{"version"}
		}
	}
	name := "run"
	if len(args) > 0 && args[0] != "" && args[0][0] != '-' {
		name, args = args[0], args[1:]
	}
	for _, c := range commands() {
		if c.name == name {
			return exitCode(c.run(ctx, args, io), io)
		}
	}
	fmt.Fprintf(io.err, "headroom: there is no command %q; the commands are:\n", name)
	printCommands(io.err)
	return exitUsage
}

func exitCode(err error, io stdio) int {
	switch {
	case err == nil, errors.Is(err, flag.ErrHelp):
		return exitOK
	case errors.Is(err, errUsage):
		return exitUsage
	}
	fmt.Fprintf(io.err, "headroom: %v\n", err)
	return exitError
}

// flags makes a flag set that prints to err and never exits by itself.
func flags(name, args string, io stdio) *flag.FlagSet {
	fs := flag.NewFlagSet(name, flag.ContinueOnError)
	fs.SetOutput(io.err)
	fs.Usage = func() {
		if d, ok := io.err.(*describer); ok {
			d.sees(fs, args)
			return
		}
		fmt.Fprintf(io.err, "usage: headroom %s %s\n", name, args)
		fs.PrintDefaults()
	}
	return fs
}

// parse reads the flags, which may stand before and behind the words, up to a
// "--"; a mistake was printed by the flag set itself.
func parse(fs *flag.FlagSet, args []string) error {
	var words []string
	for {
		switch err := fs.Parse(args); {
		case errors.Is(err, flag.ErrHelp):
			return err
		case err != nil:
			return errUsage
		}
		rest := fs.Args()
		if at := len(args) - len(rest); len(rest) == 0 || at > 0 && args[at-1] == "--" {
			words = append(words, rest...)
			break
		}
		words, args = append(words, rest[0]), rest[1:]
	}
	return fs.Parse(append([]string{"--"}, words...))
}

// cmdHelp prints the commands, or the help of the one that is named.
func cmdHelp(ctx context.Context, args []string, io stdio) error {
	if len(args) > 0 && args[0][0] != '-' {
		return helpOn(ctx, args, io)
	}
	fmt.Fprint(io.out, "headroom watches a jetter's pump and says how much room is left to each limit.\n"+
		"It is an aid and no certified safety device.\n\nusage: headroom [command] [flags]\n\n")
	printCommands(io.out)
	fmt.Fprint(io.out, "\nheadroom help COMMAND prints the command's flags; they may stand before and behind its words.\n")
	return nil
}

// helpOn has a command print its own help.
func helpOn(ctx context.Context, args []string, io stdio) error {
	for _, c := range commands() {
		if c.name != args[0] || c.name == "help" {
			continue
		}
		fmt.Fprintf(io.out, "headroom %s %s\n  %s\n\n", c.name, c.args, c.help)
		io.err = io.out
		if err := c.run(ctx, append(args[1:len(args):len(args)], "-h"), io); !errors.Is(err, errUsage) {
			return err
		}
		return nil
	}
	fmt.Fprintf(io.err, "headroom: there is no command %q; the commands are:\n", args[0])
	printCommands(io.err)
	return errUsage
}

func printCommands(w io.Writer) {
	for _, c := range commands() {
		fmt.Fprintf(w, "  %-10s %-22s %s\n", c.name, c.args, c.help)
	}
}
