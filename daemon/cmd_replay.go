package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"headroom/daemon/config"
	"headroom/daemon/replay"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors/csvfile"
)

type replayFlags struct {
	config string
	json   bool
	digest bool
	strict bool
	units  string
	// record and run name a part of a record instead of files.
	record, run string
}

// cmdReplay runs recordings through the engine as fast as they can be read.
func cmdReplay(ctx context.Context, args []string, io stdio) error {
	var o replayFlags
	fs := flags("replay", "[flags] FILE... | [flags] -run 12.3", io)
	fs.StringVar(&o.config, "config", "", "config `file` with limits, machine and the map of the columns;\n"+
		"without it FILE's own .toml beside it, else the default config")
	fs.BoolVar(&o.json, "json", false, "one JSON object a line: every transition, and a summary at the end")
	fs.BoolVar(&o.digest, "digest", false, "also print a digest over every verdict, to compare two runs")
	fs.BoolVar(&o.strict, "strict", false, "stop at the first row that can't be used")
	fs.StringVar(&o.record, "record", "", "`folder` of a record to replay from, instead of files; with -run, the default one where it is left out")
	fs.StringVar(&o.run, "run", "", "the `run` of the record, 12.3, or a whole boot, 12; without it the newest boot.\n"+
		"It is judged under the config in force, with what people did, so that the verdicts are those of then")
	fs.StringVar(&o.units, "units", "", "US or SI; without it what the config says")
	if err := parse(fs, args); err != nil {
		return err
	}
	fromRecord := o.record != "" || o.run != ""
	if fromRecord == (fs.NArg() > 0) {
		fs.Usage()
		return errUsage
	}
	if fromRecord {
		return replayRecord(ctx, o, io)
	}
	for _, path := range fs.Args() {
		if err := replayFile(ctx, path, o, io); err != nil {
			return err
		}
	}
	return nil
}

// sideFile is the config that belongs to a recording: the one named, or the
// recording's own with the ending .toml, or none.
func sideFile(path, named string) string {
	if named != "" {
		return named
	}
	own := ownConfig(path)
	if _, err := os.Stat(own); err == nil && own != path {
		return own
	}
	return ""
}

// ownConfig is the name of a recording's own config.
func ownConfig(path string) string { return strings.TrimSuffix(path, filepath.Ext(path)) + ".toml" }

func loadConfig(path string) (*config.Config, error) {
	if path == "" {
		return config.Default(), nil
	}
	return config.Load(path)
}

func replayFile(ctx context.Context, path string, o replayFlags, io stdio) error {
	if done, err := o.replayExport(ctx, path, io); done {
		return err
	}
	cfg, err := loadConfig(sideFile(path, o.config))
	if err != nil {
		return err
	}
	sys := cfg.Units
	if o.units != "" {
		if sys, err = parseUnits(o.units); err != nil {
			return err
		}
	}
	file, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("cannot open the recording: %w", err)
	}
	defer file.Close()
	reader, err := csvfile.NewReader(file, path, csvMap(cfg.CSV), csvfile.Options{
		Strict: o.strict, OnProblem: limited(io, 20),
	})
	if err != nil {
		return err
	}
	if err := o.bridge(path, cfg, io); err != nil {
		return err
	}
	e, err := engine.New(fitTo(cfg.Engine, reader.Channels()))
	if err != nil {
		return fmt.Errorf("cannot use the config: %w", err)
	}
	return report(ctx, e, reader, path, o, sys, io)
}

// bridge widens the gap that is bridged for a recording of a slow logger, and
// says so.
func (o *replayFlags) bridge(path string, cfg *config.Config, io stdio) error {
	step, ok := paceOf(path, csvMap(cfg.CSV))
	if !ok {
		return nil
	}
	was := cfg.Engine.MaxGap
	wide, err := replay.Bridge(step, was)
	if err != nil {
		return fmt.Errorf("cannot judge %s: %w", path, err)
	}
	if cfg.Engine.MaxGap = wide; wide != was {
		to := io.out
		if o.json {
			to = io.err
		}
		fmt.Fprintf(to, "%s: %s\n", path, replay.BridgeWords(step, wide, was))
	}
	return nil
}

// paceOf looks at the steps between a recording's rows; ok is false where
// there are none. What can't be read is told by whoever reads it in earnest.
func paceOf(path string, m csvfile.Map) (step time.Duration, ok bool) {
	file, err := os.Open(path)
	if err != nil {
		return 0, false
	}
	defer file.Close() // only read from
	r, err := csvfile.NewReader(file, path, m, csvfile.Options{})
	if err != nil {
		return 0, false
	}
	return replay.Pace(r)
}

// report runs the replay and prints it in the form that was asked for.
func report(ctx context.Context, e *engine.Engine, reader *csvfile.Reader, path string, o replayFlags, sys units.System, io stdio) error {
	opt := replay.Options{Digest: o.digest}
	out := o.teller(path, sys, io, &opt)
	res, err := replay.Run(ctx, e, reader, opt)
	stats := reader.Stats()
	sum := &replay.Summary{Result: res, Skipped: stats.Skipped}
	if werr := out.Summary(sum); werr != nil && err == nil {
		err = fmt.Errorf("cannot write the report: %w", werr)
	}
	if err == nil && res.Totals.Frames == 0 {
		err = fmt.Errorf("no row of %s could be used; does the map of its columns fit (-config)?", path)
	}
	return err
}

// summer writes the end of a report.
type summer interface{ Summary(*replay.Summary) error }

// teller has a replay told in the form that was asked for.
func (o *replayFlags) teller(title string, sys units.System, io stdio, opt *replay.Options) summer {
	if o.json {
		lines := replay.NewLines(io.out, title)
		opt.OnTransition, opt.OnAct = lines.Transition, lines.Act
		return lines
	}
	fmt.Fprintf(io.out, "%s\n", title)
	text := replay.NewText(io.out, sys)
	opt.OnTransition, opt.OnAct = text.Transition, text.Act
	return text
}

// fitTo makes the recording say which channels the machine has.
func fitTo(cfg engine.Config, channels []frame.Channel) engine.Config {
	return replay.FitTo(cfg, channels)
}

// limited prints the first n problems of a recording to stderr, with a word on
// the rest: a broken logger must not bury the report.
func limited(io stdio, n int) func(csvfile.RowError) {
	seen := 0
	return func(e csvfile.RowError) {
		seen++
		switch {
		case seen <= n:
			fmt.Fprintln(io.err, e.Error())
		case seen == n+1:
			fmt.Fprintln(io.err, "further rows that can't be used are only counted")
		}
	}
}

func parseUnits(s string) (units.System, error) {
	switch strings.ToUpper(s) {
	case "US":
		return units.US, nil
	case "SI":
		return units.SI, nil
	}
	return units.SI, fmt.Errorf("units %q are unknown; write US or SI", s)
}

// csvMap hands the config's column map to the reader of recordings.
func csvMap(m config.CSVMap) csvfile.Map {
	if len(m.Columns) == 0 {
		return csvfile.Map{}
	}
	out := csvfile.Map{
		Delimiter: m.Delimiter, DecimalComma: m.DecimalComma,
		Time: csvfile.TimeColumn{Column: m.Time.Column, DateColumn: m.Time.DateColumn, Format: m.Time.Format, Unit: m.Time.Unit},
	}
	for _, c := range m.Columns {
		out.Columns = append(out.Columns, csvfile.Column{
			Name: c.Name, Channel: c.Channel, Unit: c.Unit, Scale: c.Scale, Offset: c.Offset, StatusColumn: c.StatusColumn,
		})
	}
	return out
}
