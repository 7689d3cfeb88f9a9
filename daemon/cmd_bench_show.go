package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strings"
	"text/tabwriter"
	"time"

	"headroom/daemon/bench"
	"headroom/daemon/bench/cert"
	"headroom/daemon/config"
	"headroom/daemon/wholefile"
	"headroom/rules/units"
)

// wholeness is one word on a test.
func wholeness(r *bench.Record) string {
	if r.Whole() {
		return "whole"
	}
	if r.State == bench.Complete {
		return "PARTIAL (steps left out)"
	}
	if r.State == bench.Running {
		return "PARTIAL (not ended)"
	}
	return "PARTIAL (" + string(r.State) + ")"
}

// printBand prints, across the page, that what follows is no machine's own.
func printBand(text string, io stdio) {
	if text == "" {
		return
	}
	rule := strings.Repeat("=", 78)
	fmt.Fprintf(io.out, "%s\n%s\n%s\n", rule, text, rule)
}

func benchList(_ context.Context, o *benchFlags, _ []string, io stdio) error {
	_, store, _, err := o.prepare()
	if err != nil {
		return err
	}
	all, bad := store.List()
	w := tabwriter.NewWriter(io.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "TEST\tPUMP\tWHO\tREADINGS FROM\tSTATE\tVERDICT")
	for _, r := range all {
		v, _ := r.Stated(r.Checks())
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\n", r.ID, strings.TrimSpace(r.Pump.Name+" "+r.Pump.Serial), r.Who, r.Source, wholeness(r), v)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return errors.Join(bad...)
}

// loadTest reads the one test that the words name.
func (o *benchFlags) loadTest(args []string) (*bench.Record, units.System, error) {
	id, err := one(args, "test")
	if err != nil {
		return nil, units.SI, err
	}
	_, store, sys, err := o.prepare()
	if err != nil {
		return nil, sys, err
	}
	r, err := store.Find(id)
	return r, sys, err
}

func benchShow(_ context.Context, o *benchFlags, args []string, io stdio) error {
	r, sys, err := o.loadTest(args)
	if err != nil {
		return err
	}
	if o.json {
		verdict, why := r.Stated(r.Checks())
		e := json.NewEncoder(io.out)
		e.SetIndent("", "  ")
		return e.Encode(map[string]any{
			"record": r, "hash": r.Hash(), "whole": r.Whole(), "results": r.Results(), "checks": r.Checks(), "doubts": r.Doubts(),
			"verdict": verdict, "why": why, "practice": r.Practice(),
		})
	}
	return showTest(r, sys, io)
}

// showTest prints figures, limits and the verdict.
func showTest(r *bench.Record, sys units.System, io stdio) error {
	printBand(r.PracticeBand(), io)
	fmt.Fprintf(io.out, "\n%s: %s, %s\n\n", r.ID, strings.TrimSpace(r.Pump.Name+" "+r.Pump.Serial), wholeness(r))
	w := tabwriter.NewWriter(io.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "FIGURE\tVALUE (95 %)\tk\tREMARK")
	for _, res := range r.Results() {
		if !res.OK {
			fmt.Fprintf(w, "%s\t-\t\t%s\n", res.Figure.Label(), res.Why)
			continue
		}
		fmt.Fprintf(w, "%s\t%s\t%.2f\t%s\n", res.Figure.Label(), res.Figure.FormatU(sys, res.Value, res.U), res.K, res.Doubt)
	}
	checks := r.Checks()
	fmt.Fprintln(w, "\nLIMIT\tIS\t\tVERDICT")
	for _, c := range checks {
		why := ""
		if c.Why != "" {
			why = ": " + c.Why
		}
		fmt.Fprintf(w, "%s\t%s\t\t%s%s\n", c.Limit.Figure.Label(), c.Limit.Words(sys), c.Verdict, why)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	v, why := r.Stated(checks)
	fmt.Fprintf(io.out, "\nVerdict: %s (%s)\n", v, why)
	return nil
}

func benchCertificate(_ context.Context, o *benchFlags, args []string, io stdio) error {
	r, sys, err := o.loadTest(args)
	if err != nil {
		return err
	}
	opt := cert.Options{Units: sys, Version: versionString()}
	if o.before != "" {
		if opt.Before, err = bench.NewStore(o.folder).Find(o.before); err != nil {
			return err
		}
		if err := bench.Distinct(opt.Before, r); err != nil {
			return err
		}
	}
	var page bytes.Buffer
	if err := cert.Write(&page, r, opt); err != nil {
		return err
	}
	if o.out == "" {
		o.out = r.ID + ".html"
	}
	if o.out == "-" {
		_, err := io.out.Write(page.Bytes())
		return err
	}
	if err := notThere(o.out, o.force); err != nil {
		return err
	}
	if err := wholefile.Write(o.out, page.Bytes()); err != nil {
		return fmt.Errorf("cannot write the certificate: %w", err)
	}
	printBand(r.PracticeBand(), io)
	fmt.Fprintf(io.out, "%s written (%s). Open it in a browser; its print dialogue also saves a PDF.\n", o.out, wholeness(r))
	return nil
}

func benchCompare(_ context.Context, o *benchFlags, args []string, io stdio) error {
	if len(args) != 2 {
		return errors.New("name two tests, the earlier first; headroom bench list shows them")
	}
	_, store, sys, err := o.prepare()
	if err != nil {
		return err
	}
	before, err := store.Find(args[0])
	if err != nil {
		return err
	}
	after, err := store.Find(args[1])
	if err != nil {
		return err
	}
	if err := bench.Distinct(before, after); err != nil {
		return err
	}
	all, err := bench.Compare(before, after)
	if err != nil {
		return err
	}
	for _, r := range []*bench.Record{before, after} {
		printBand(r.PracticeBand(), io)
	}
	fmt.Fprintf(io.out, "before %s, %s\nafter  %s, %s\n\n", before.ID, wholeness(before), after.ID, wholeness(after))
	w := tabwriter.NewWriter(io.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "FIGURE\tBEFORE\tAFTER\tDIFFERENCE\tSAYS")
	for _, c := range all {
		if !c.OK {
			fmt.Fprintf(w, "%s\t-\t-\t-\t%s\n", c.Figure.Label(), c.Why)
			continue
		}
		says := "no difference shown"
		if c.Shown {
			says = "changed"
		}
		if c.Why != "" {
			says = c.Why
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", c.Figure.Label(), c.Figure.FormatU(sys, c.Before.Value, c.Before.U),
			c.Figure.FormatU(sys, c.After.Value, c.After.U), c.Figure.FormatDifference(sys, c.Difference, c.U), says)
	}
	return w.Flush()
}

func benchTrend(_ context.Context, o *benchFlags, args []string, io stdio) error {
	name, err := one(args, "figure")
	if err != nil {
		return errors.New("name one figure, for example volumetric_efficiency")
	}
	f, ok := bench.FigureByName(name)
	if !ok {
		return fmt.Errorf("there is no figure %q: headroom bench show -json lists their names", name)
	}
	_, store, sys, err := o.prepare()
	if err != nil {
		return err
	}
	all, bad := store.List()
	tests, err := ofOnePump(all, o.pump)
	if err != nil {
		return err
	}
	t := bench.TrendOf(f, tests)
	for _, p := range t.Points {
		mark := ""
		if !p.Whole {
			mark = "  PARTIAL"
		}
		if p.Practice {
			mark += "  PRACTICE"
		}
		fmt.Fprintf(io.out, "%s  %s%s\n", p.Began.Format(time.DateOnly), f.FormatU(sys, p.Result.Value, p.Result.U), mark)
	}
	if t.OK {
		fmt.Fprintf(io.out, "%s a year\n", f.FormatDifference(sys, t.PerYear, t.U))
	} else {
		fmt.Fprintln(io.out, "A trend needs three tests.")
	}
	return errors.Join(bad...)
}

// ofOnePump keeps the tests of one pump; without a name there must be only one.
func ofOnePump(all []*bench.Record, name string) (tests []*bench.Record, err error) {
	for _, r := range all {
		full := strings.TrimSpace(r.Pump.Name + " " + r.Pump.Serial)
		if name == "" || name == full || name == r.Pump.Name {
			tests = append(tests, r)
		}
	}
	for _, r := range tests {
		if r.Pump.Name+r.Pump.Serial != tests[0].Pump.Name+tests[0].Pump.Serial {
			return nil, errors.New("tests of several pumps are kept: name one with -pump \"NAME SERIAL\"")
		}
	}
	return tests, nil
}

func benchBaseline(_ context.Context, o *benchFlags, args []string, io stdio) error {
	if o.config == "" {
		return errors.New("which machine's config shall get the baseline? Write -config FILE before the test's name")
	}
	r, _, err := o.loadTest(args)
	if err != nil {
		return err
	}
	old, err := os.ReadFile(o.config)
	if err != nil {
		return fmt.Errorf("cannot read the config: %w", err)
	}
	text, err := r.WriteBaseline(string(old))
	if err != nil {
		return err
	}
	if _, problems := config.Parse(o.config, []byte(text)); len(config.Mistakes(problems)) > 0 {
		return fmt.Errorf("the config with the baseline would not be valid: %v", config.Mistakes(problems)[0])
	}
	if !o.write {
		_, err := fmt.Fprint(io.out, text)
		return err
	}
	if err := wholefile.Write(o.config+".before-baseline", old); err != nil {
		return fmt.Errorf("cannot keep the config as it was: %w", err)
	}
	if err := wholefile.Write(o.config, []byte(text)); err != nil {
		return fmt.Errorf("cannot write the config: %w", err)
	}
	fmt.Fprintf(io.out, "%s holds the baseline of %s; as it was: %s.before-baseline\n", o.config, r.ID, o.config)
	return tellOwnFigures(r, io)
}

// tellOwnFigures prints what else of the test belongs into a config, by hand.
func tellOwnFigures(r *bench.Record, io stdio) error {
	if res := r.Figure(bench.NoLoadCurrent); res.OK {
		fmt.Fprintf(io.out, "motor.no_load_current = %q would fit this machine\n", fmt.Sprintf("%.2f A", res.Value))
	}
	if res := r.Figure(bench.NPSHRequired); res.OK {
		fmt.Fprintf(io.out, "[[machine.npsh_required]] speed = %q, head = %q likewise\n", fmt.Sprintf("%.0f rpm", 60*r.Pump.SpeedHz), fmt.Sprintf("%.2f m", res.Value))
	}
	return nil
}
