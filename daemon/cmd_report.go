package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	printed "headroom/daemon/report"
	"headroom/daemon/store"
	"headroom/daemon/wholefile"
	"headroom/rules/units"
)

type reportFlags struct {
	pastFlags
	run, out, pdf, browser, paper string
	force                         bool
}

// cmdReport writes the printable report of a run.
func cmdReport(ctx context.Context, args []string, io stdio) error {
	var o reportFlags
	fs := flags("report", "[flags]", io)
	fs.StringVar(&o.record, "record", "", "the record's `folder`; without it the default one")
	fs.StringVar(&o.run, "run", "", "the `run`, as 12.3, or a whole boot, as 12; without it the newest that happened")
	fs.StringVar(&o.out, "o", "", "write the HTML to `FILE`; without it and without -pdf to standard output")
	fs.StringVar(&o.pdf, "pdf", "", "print it to the PDF `FILE` with a Chromium of this machine")
	fs.BoolVar(&o.force, "force", false, "replace files that exist")
	fs.StringVar(&o.browser, "browser", "", "the `program` that prints; without it the first Chromium on the PATH")
	fs.StringVar(&o.paper, "paper", "", "A4 or Letter; without it Letter with US units, else A4")
	fs.StringVar(&o.units, "units", "", "US or SI; without it what the config in force says")
	if err := parse(fs, args); err != nil {
		return err
	}
	if fs.NArg() > 0 {
		fs.Usage()
		return errUsage
	}
	paper, err := parsePaper(o.paper)
	if err != nil {
		return err
	}
	if err := errors.Join(notThere(o.out, o.force), notThere(o.pdf, o.force)); err != nil {
		return err
	}
	return o.open(ctx, o.run, func(r *store.Reader, id store.RunID, sys units.System) error {
		p, err := printed.Make(ctx, r, id, printed.Options{Units: sys, Zone: time.Local, Paper: paper, Software: versionString()})
		if err != nil {
			return err
		}
		return o.write(ctx, p, io)
	})
}

func parsePaper(s string) (printed.Paper, error) {
	switch strings.ToLower(s) {
	case "":
		return "", nil
	case "a4":
		return printed.A4, nil
	case "letter":
		return printed.Letter, nil
	}
	return "", fmt.Errorf("paper %q is unknown; write A4 or Letter", s)
}

// write writes the report where it was asked for. A browser that is missing
// does not cost the HTML.
func (o *reportFlags) write(ctx context.Context, p *printed.Report, io stdio) error {
	var page bytes.Buffer
	if err := p.WriteHTML(&page); err != nil {
		return err
	}
	if o.out != "" {
		if err := wholefile.Write(o.out, page.Bytes()); err != nil {
			return fmt.Errorf("cannot write the report: %w", err)
		}
		fmt.Fprintf(io.err, "wrote %s\n", o.out)
	} else if o.pdf == "" {
		_, err := io.out.Write(page.Bytes())
		return err
	}
	if o.pdf == "" {
		return nil
	}
	browser, err := printed.FindBrowser(o.browser)
	if errors.Is(err, printed.ErrNoBrowser) && o.out == "" {
		return fmt.Errorf("%w; -o FILE writes it", err)
	}
	if err != nil {
		return err
	}
	if err := p.WritePDF(ctx, browser, o.pdf); err != nil {
		return err
	}
	fmt.Fprintf(io.err, "wrote %s\n", o.pdf)
	return nil
}
