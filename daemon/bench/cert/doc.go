// Package cert writes the certificate of a bench test as one HTML page that
// needs nothing else, made for paper: a browser prints it, or saves it as PDF.
//
// It owns the page, its figures and its words. It refuses to hide: a partial
// test says so on every printed page, practice on a simulator or a recording
// has neither verdict nor signature, every figure stands with its uncertainty
// and factor, and what wasn't tested is listed beside what was.
package cert

import (
	"embed"
	"fmt"
	"html/template"
	"io"
	"strings"
	"time"

	"headroom/daemon/bench"
	"headroom/rules/units"
)

//go:embed cert.html
var files embed.FS

// Options of a certificate.
type Options struct {
	// Units are what people read.
	Units units.System
	// Version of the program.
	Version string
	// Before is an earlier test to set beside; nil for none.
	Before *bench.Record
}

// Write writes the certificate of a test.
func Write(w io.Writer, r *bench.Record, o Options) error {
	t, err := template.ParseFS(files, "cert.html")
	if err != nil {
		return fmt.Errorf("cannot read the certificate's page: %w", err)
	}
	p, err := page(r, o)
	if err != nil {
		return err
	}
	if err := t.Execute(w, p); err != nil {
		return fmt.Errorf("cannot write the certificate: %w", err)
	}
	return nil
}

// view is what the page shows, all of it words.
type view struct {
	Title, ID, Hash, Version string
	Partial                  bool
	// Practice is the band of a test that proves no pump; empty for others.
	Practice, Why               string
	Verdict, VerdictWhy, Rule   string
	Facts, Plate                []row
	Checks                      []checkRow
	Figures                     []figureRow
	NotTested                   []row
	Doubts                      []string
	Instruments                 []instrumentRow
	Points                      []pointRow
	Entries, Breaks             []row
	Plots                       []template.HTML
	Changes                     []changeRow
	BeforeID                    string
	Level, Guard                string
	FlowUnit, PressureUnit      string
	TempUnit, SpeedUnit, Signed string
}

type (
	row      struct{ Name, Value string }
	checkRow struct{ Figure, Value, Limit, Guard, Verdict, Mark, Why, Source string }
	// figureRow has the budget's largest parts.
	figureRow     struct{ Figure, Value, K, DoF, Parts, Doubt string }
	instrumentRow struct{ Channel, Name, Error, Calibrated, Due string }
	pointRow      struct {
		Step, Inlet, Outlet, Flow, Speed, Current, Temp, Worth string
	}
	changeRow struct{ Figure, Before, After, Difference, Says string }
)

// day writes a date as the page does.
func day(t time.Time) string {
	if t.IsZero() {
		return "not ended"
	}
	return t.UTC().Format("2006-01-02 15:04 UTC")
}

// sentence begins a text with a capital letter.
func sentence(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
