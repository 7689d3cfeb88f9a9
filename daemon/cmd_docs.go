package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"headroom/daemon/config"
	"headroom/daemon/manual"
)

// cmdDocs writes the manual pages and the completions of shells, for packages.
func cmdDocs(_ context.Context, args []string, io stdio) error {
	fs := flags("docs", "[flags] FOLDER", io)
	date := fs.String("date", "", "the pages' `day`, as 2026-01-31; without it today")
	if err := parse(fs, args); err != nil {
		return err
	}
	if fs.NArg() != 1 {
		fs.Usage()
		return errUsage
	}
	day := time.Now()
	if *date != "" {
		var err error
		if day, err = time.Parse(time.DateOnly, *date); err != nil {
			return fmt.Errorf("cannot use -date %q; write it as 2026-01-31", *date)
		}
	}
	return writeDocs(fs.Arg(0), day)
}

func writeDocs(folder string, day time.Time) error {
	p := &manual.Program{Version: versionString(), Date: day, Commands: described()}
	for _, f := range []struct{ path, text string }{
		{"man/headroom.1", p.CommandsPage()},
		{"man/headroom.toml.5", p.SettingsPage(config.Schema())},
		{"bash/headroom", p.Bash()},
		{"zsh/_headroom", p.Zsh()},
		{"fish/headroom.fish", p.Fish()},
	} {
		path := filepath.Join(folder, filepath.FromSlash(f.path))
		err := os.MkdirAll(filepath.Dir(path), 0o755)
		if err = errors.Join(err, os.WriteFile(path, []byte(f.text), 0o644)); err != nil {
			return fmt.Errorf("cannot write the manual: %w", err)
		}
	}
	return nil
}

// described asks every command, and what it lists as its own words, for its
// flags.
func described() (all []manual.Command) {
	for _, c := range commands() {
		d := describe(c.name)
		// Without a word of its own it may mean one: then it takes its flags.
		d.command.Name, d.command.Args, d.command.Help = c.name, c.args, c.help
		words, files := commandWords(c.name, c.args)
		var subs []manual.Command
		for _, w := range words {
			if sub := describe(c.name, w); sub.command.Name == c.name+" "+w {
				sub.command.Help = subHelp(c.name, w)
				subs = append(subs, sub.command)
			} else {
				d.command.Words = append(d.command.Words, w)
			}
		}
		d.command.Files = files
		all = append(append(all, d.command), subs...)
	}
	return all
}
