package main

import (
	"context"
	"flag"
	"fmt"
	"path/filepath"
	"strings"
	"text/tabwriter"

	"headroom/daemon/bench"
	"headroom/daemon/config"
	"headroom/rules/units"
)

// benchTopic is one word after "headroom bench".
type benchTopic struct {
	name, args, help string
	bind             func(fs *flag.FlagSet, o *benchFlags)
	run              func(ctx context.Context, o *benchFlags, args []string, io stdio) error
}

// benchFlags are the flags of all topics; each binds those it knows.
type benchFlags struct {
	config, folder, library, units   string
	print, json, write               bool
	pump, serial, who, where, sim    string
	playback, out, before            string
	seed                             uint64
	window                           float64
	speeds, unloader                 string
	noInlet, noBypass, noLeak, alone bool
	force                            bool
}

// benchTopics lists them in the order of the help.
func benchTopics() []benchTopic {
	return []benchTopic{
		{"pumps", "", "list the library of pumps, instruments and limits, or print it to copy", bindPumps, benchPumps},
		{"run", "-pump NAME -who NAME", "run a test on the sensors, on the simulator (-sim) or on a recording (-playback)", bindRun, benchRun},
		{"resume", "ID", "go on with a test that was interrupted", bindRun, benchResume},
		{"list", "", "list the tests that are kept", nil, benchList},
		{"show", "ID", "figures with their uncertainty, and the verdict on each limit", bindShow, benchShow},
		{"certificate", "ID", "write the certificate as HTML; a browser prints it or saves it as PDF", bindCertificate, benchCertificate},
		{"delete", "ID...", "delete tests for good: practice and what was never ended at once, a test of a pump with -force", bindDelete, benchDelete},
		{"compare", "BEFORE AFTER", "set two tests side by side, with the uncertainty of each difference", nil, benchCompare},
		{"trend", "FIGURE", "follow a figure over the tests of a pump", bindTrend, benchTrend},
		{"accept-baseline", "ID -config FILE", "put a test's points into the config as the machine's baseline", bindBaseline, benchBaseline},
	}
}

// cmdBench proves a pump.
func cmdBench(ctx context.Context, args []string, io stdio) error {
	if len(args) == 0 || args[0] == "-h" || args[0] == "-help" || args[0] == "--help" {
		printBenchTopics(io)
		if len(args) == 0 {
			return errUsage
		}
		return nil
	}
	for _, t := range benchTopics() {
		if t.name != args[0] {
			continue
		}
		var o benchFlags
		fs := flags("bench "+t.name, "[flags] "+t.args, io)
		bindCommon(fs, &o)
		if t.bind != nil {
			t.bind(fs, &o)
		}
		if err := parse(fs, args[1:]); err != nil {
			return err
		}
		return t.run(ctx, &o, fs.Args(), io)
	}
	fmt.Fprintf(io.err, "headroom: bench knows no %q\n", args[0])
	printBenchTopics(io)
	return errUsage
}

func printBenchTopics(io stdio) {
	fmt.Fprint(io.err, "usage: headroom bench TOPIC [flags]\n\n")
	for _, t := range benchTopics() {
		fmt.Fprintf(io.err, "  %-15s %-22s %s\n", t.name, t.args, t.help)
	}
	fmt.Fprint(io.err, "\nheadroom bench TOPIC -h prints the topic's flags. An ID may be cut short where only one test begins so; last is the newest.\nTry it: headroom bench run -sim new -who me\n")
}

func bindCommon(fs *flag.FlagSet, o *benchFlags) {
	fs.StringVar(&o.config, "config", "", "config `file` of the machine; without it the default one")
	fs.StringVar(&o.folder, "folder", "", "`folder` of the tests; without it bench beside the record")
	fs.StringVar(&o.units, "units", "", "US or SI; without it what the config says")
}

func bindPumps(fs *flag.FlagSet, o *benchFlags) {
	fs.StringVar(&o.library, "library", "", "library `file` of your own")
	fs.BoolVar(&o.print, "print", false, "print the library that is built in, to copy and edit")
}

func bindShow(fs *flag.FlagSet, o *benchFlags) {
	fs.BoolVar(&o.json, "json", false, "print the record with its figures as JSON")
}

func bindDelete(fs *flag.FlagSet, o *benchFlags) {
	fs.BoolVar(&o.force, "force", false, "delete a test that was done on a pump, too")
}

func bindCertificate(fs *flag.FlagSet, o *benchFlags) {
	fs.StringVar(&o.out, "o", "", "`file` to write; without it ID.html")
	fs.BoolVar(&o.force, "force", false, "replace the file where it exists")
	fs.StringVar(&o.before, "before", "", "`ID` of an earlier test to set beside")
}

func bindTrend(fs *flag.FlagSet, o *benchFlags) {
	fs.StringVar(&o.pump, "pump", "", "`name` of the pump; needed where tests of several are kept")
}

func bindBaseline(fs *flag.FlagSet, o *benchFlags) {
	fs.BoolVar(&o.write, "write", false, "change the config file; without it what it would hold is printed")
}

// prepare loads the config and opens the folder of the tests.
func (o *benchFlags) prepare() (*config.Config, *bench.Store, units.System, error) {
	cfg, err := loadConfig(o.config)
	if err != nil {
		return nil, nil, units.SI, err
	}
	sys := cfg.Units
	if o.units != "" {
		if sys, err = parseUnits(o.units); err != nil {
			return nil, nil, units.SI, err
		}
	}
	if o.folder == "" {
		dir, err := recordFolder("", cfg.Record.Folder)
		if err != nil {
			return nil, nil, units.SI, err
		}
		o.folder = filepath.Join(dir, "bench")
	}
	return cfg, bench.NewStore(o.folder), sys, nil
}

// loadLibrary reads the library that was named, or the generic one.
func (o *benchFlags) loadLibrary() (*bench.Library, error) {
	if o.library == "" {
		return bench.Generic(), nil
	}
	return bench.LoadLibrary(o.library)
}

func benchPumps(_ context.Context, o *benchFlags, _ []string, io stdio) error {
	if o.print {
		_, err := fmt.Fprint(io.out, bench.GenericText())
		return err
	}
	lib, err := o.loadLibrary()
	if err != nil {
		return err
	}
	_, _, sys, err := o.prepare()
	if err != nil {
		return err
	}
	w := tabwriter.NewWriter(io.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "PUMP\tFLOW\tPRESSURE\tSPEED\tDISPLACEMENT")
	for _, p := range lib.Pumps {
		name := p.Name
		if p.Invented && !strings.Contains(name, "invented") {
			name += " (invented)"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", name, bench.Value(units.FlowRate, sys, p.FlowM3s), bench.Value(units.Pressure, sys, p.PressurePa),
			bench.Value(units.Speed, sys, p.SpeedHz), bench.Value(units.Volume, sys, p.DisplacementM3))
	}
	fmt.Fprintln(w, "\nINSTRUMENT\tCHANNEL\tLIMITS OF ERROR\tCALIBRATED\tDUE")
	for _, i := range lib.Instruments {
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", i.Name, i.Channel, i.Stated, orDash(i.Calibrated), orDash(i.Due))
	}
	return w.Flush()
}

// one returns the only word, which names what.
func one(args []string, what string) (string, error) {
	if len(args) != 1 {
		return "", fmt.Errorf("name one %s; headroom bench list shows the tests", what)
	}
	return args[0], nil
}
