package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"

	"headroom/daemon/config"
	"headroom/daemon/imported"
	"headroom/daemon/replay"
	"headroom/rules/units"
)

type importFlags struct {
	folder, config, machine string
	timeColumn, dateColumn  string
	delimiter, decimal      string
	columns                 []string
	strict                  bool
}

// recordImport takes somebody else's recording into the record.
func recordImport(ctx context.Context, args []string, io stdio) error {
	var o importFlags
	fs := flags("record import", "[flags] FILE", io)
	fs.StringVar(&o.folder, "record", "", "the record's `folder`; without it the default one. A program that records there may go on")
	fs.StringVar(&o.config, "config", "", "config `file` with the machine, its limits and the map of the columns, to judge by;\n"+
		"without it the default one, or that of an export of this program")
	fs.StringVar(&o.machine, "machine", "", "what the machine is called; without it the config's `name`")
	fs.StringVar(&o.timeColumn, "time", "", "column of the time and how it is written: `COLUMN=FORMAT`, such as Time=YYYY-MM-DD hh:mm:ss,\n"+
		"or for a number its unit: t=s, t=ms; the same as [csv.time] in the config")
	fs.StringVar(&o.dateColumn, "date", "", "`column` of the date, where the time's column has only the time of day;\n"+
		"the format of -time is then for both, with a blank between")
	fs.Func("map", "column, channel and unit: `COLUMN=CHANNEL:UNIT`, such as Inlet=inlet_pressure:psi; once for each column,\n"+
		"the same as [[csv.column]] in the config", func(s string) error {
		o.columns = append(o.columns, s)
		return nil
	})
	fs.StringVar(&o.delimiter, "delimiter", "", "`character` between fields; without it a comma")
	fs.StringVar(&o.decimal, "decimal", "", "decimal `mark` of numbers; without it a point")
	fs.BoolVar(&o.strict, "strict", false, "import nothing if a row can't be used")
	if err := parse(fs, args); err != nil {
		return err
	}
	if fs.NArg() != 1 {
		fs.Usage()
		return errUsage
	}
	opt, err := o.options(fs.Arg(0), io)
	if err != nil {
		return err
	}
	dir, err := recordFolder(o.folder, "")
	if err != nil {
		return err
	}
	res, err := imported.File(ctx, dir, fs.Arg(0), opt)
	if err != nil {
		return err
	}
	tellImport(&res, io)
	return nil
}

// options makes the config to judge by: the file's text, and the map of the
// flags behind it, so that all of it is kept with the boot.
func (o *importFlags) options(path string, io stdio) (opt imported.Options, err error) {
	opt = imported.Options{Software: versionString(), Machine: o.machine, Strict: o.strict, OnProblem: limited(io, 20)}
	extra, err := o.csvText()
	if err != nil {
		return opt, err
	}
	name := sideFile(path, o.config)
	var text []byte
	if name != "" {
		if text, err = os.ReadFile(name); err != nil {
			return opt, fmt.Errorf("cannot read the config: %w", err)
		}
	}
	if name == "" && extra == "" && isOwn(path) {
		return opt, nil // it brings its own
	}
	if name == "" && extra == "" {
		opt.Config, opt.ConfigText, err = loadWithText("")
		return opt, err
	}
	if name == "" {
		name = "the flags"
	}
	if extra != "" && strings.Contains("\n"+string(text), "\n[csv") {
		return opt, fmt.Errorf("%s has a map of the columns already: leave out -time, -map, -delimiter and -decimal", name)
	}
	text = append(text, extra...)
	cfg, problems := config.Parse(name, text)
	if bad := config.Mistakes(problems); len(bad) > 0 {
		return opt, fmt.Errorf("%v%s", bad[0], andMore(len(bad)-1))
	}
	opt.Config, opt.ConfigText, opt.Map = cfg, text, csvMap(cfg.CSV)
	return opt, bridgeImport(path, name, &opt, io)
}

// bridgeImport widens the gap that is bridged for a recording of a slow
// logger. It goes into the config that is kept with the boot, so that whoever
// judges the boot again judges it the same.
func bridgeImport(path, name string, opt *imported.Options, io stdio) error {
	step, ok := paceOf(path, opt.Map)
	was := opt.Config.Engine.MaxGap
	if !ok || step <= was {
		return nil
	}
	wide, err := replay.Bridge(step, was)
	if err != nil {
		return fmt.Errorf("cannot import %s: %w", path, err)
	}
	key := fmt.Sprintf("max_gap = \"%g s\"", wide.Seconds())
	text := append(slices.Clone(opt.ConfigText), "\n[states]\n"+key+"\n"...)
	cfg, problems := config.Parse(name, text)
	if len(config.Mistakes(problems)) > 0 {
		return fmt.Errorf("cannot import %s: its rows lie farther apart than states.max_gap, so nothing could be judged: write %s under [states] of %s", path, key, name)
	}
	opt.Config, opt.ConfigText = cfg, text
	fmt.Fprintf(io.out, "%s: %s\n", path, replay.BridgeWords(step, wide, was))
	return nil
}

func andMore(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf(" (and %s more; headroom check names them all)", counted(n, "mistake"))
}

// csvText writes the flags as the part of a config that they stand for.
func (o *importFlags) csvText() (string, error) {
	if o.timeColumn == "" && o.dateColumn == "" && len(o.columns) == 0 && o.delimiter == "" && o.decimal == "" {
		return "", nil
	}
	if o.timeColumn == "" || len(o.columns) == 0 {
		return "", errors.New("a map needs -time and at least one -map; or write it into a config's section [csv] and name that with -config")
	}
	var b strings.Builder
	b.WriteString("\n[csv]\n")
	set := func(key, value string) {
		if value != "" {
			fmt.Fprintf(&b, "%s = %s\n", key, quoted(value))
		}
	}
	set("delimiter", o.delimiter)
	set("decimal", o.decimal)
	column, format, ok := cutLast(o.timeColumn, "=")
	if !ok {
		return "", fmt.Errorf("-time %q names no format: write COLUMN=FORMAT, such as Time=YYYY-MM-DD hh:mm:ss, or t=s for seconds", o.timeColumn)
	}
	b.WriteString("[csv.time]\n")
	set("column", column)
	set("date_column", o.dateColumn)
	switch format {
	case "s", "ms", "us", "ns":
		set("unit", format)
	default:
		set("format", format)
	}
	for _, c := range o.columns {
		name, rest, ok := cutLast(c, "=")
		channel, unit, hasUnit := strings.Cut(rest, ":")
		if !ok || !hasUnit {
			return "", fmt.Errorf("-map %q is not whole: write COLUMN=CHANNEL:UNIT, such as Inlet=inlet_pressure:psi, or Pump=running: for a switch, which has no unit", c)
		}
		b.WriteString("[[csv.column]]\n")
		set("name", name)
		set("channel", channel)
		fmt.Fprintf(&b, "unit = %s\n", quoted(unit))
	}
	return b.String(), nil
}

// quoted writes a text as TOML's basic strings are.
func quoted(s string) string { return strconv.Quote(s) }

// cutLast cuts at the last place, as names of columns may hold anything.
func cutLast(s, sep string) (before, after string, ok bool) {
	i := strings.LastIndex(s, sep)
	if i < 0 {
		return s, "", false
	}
	return s[:i], s[i+len(sep):], true
}

// tellImport says what became of the file.
func tellImport(res *imported.Result, io stdio) {
	fmt.Fprintf(io.out, "imported %s as boot %d: %s over %s, %s left out, %s\n", res.Source.Name, res.Boot,
		counted(int(res.Frames), "frame"), units.Format(units.Duration, units.SI, (res.To-res.From).Seconds()),
		counted(int(res.Skipped), "row"), counted(int(res.Raised), "alarm"))
	fmt.Fprintf(io.out, "SHA-256 of the file: %s\nIt counts for no machine's life.\n", res.Source.SHA256)
}
