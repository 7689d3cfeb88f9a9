package main

import (
	"context"
	"errors"
	"strings"

	"headroom/daemon/config"
	"headroom/daemon/store"
	"headroom/daemon/whatif"
	"headroom/rules/units"
)

// settingList gathers the flag -set, which may stand more than once.
type settingList []whatif.Setting

// String implements flag.Value.
func (l *settingList) String() string {
	var all []string
	for i := range *l {
		all = append(all, (*l)[i].Name()+"="+(*l)[i].Value)
	}
	return strings.Join(all, " ")
}

// Set implements flag.Value.
func (l *settingList) Set(text string) error {
	s, err := whatif.ParseSetting(text)
	if err == nil {
		*l = append(*l, s)
	}
	return err
}

// cmdWhatif runs a run once more under other settings and compares the alarms.
func cmdWhatif(ctx context.Context, args []string, io stdio) error {
	var o pastFlags
	var file string
	var asJSON, acts bool
	var set settingList
	fs := flags("whatif", "[flags] [RUN]", io)
	fs.StringVar(&o.record, "record", "", "the record's `folder`; without it the default one")
	fs.StringVar(&o.units, "units", "", "US or SI; without it what the config in force says")
	fs.StringVar(&file, "config", "", "config `file` to judge by instead of the one in force")
	fs.Var(&set, "set", "change one `setting` of the config in force, as rules.inlet_low.act=10psi or\n"+
		"supply_hose.length=100ft; may stand more than once")
	fs.BoolVar(&acts, "acts", false, "do again what people did to alarms; without it neither side has it")
	fs.BoolVar(&asJSON, "json", false, "one JSON object with both lists")
	if err := parse(fs, args); err != nil {
		return err
	}
	if fs.NArg() > 1 {
		fs.Usage()
		return errUsage
	}
	if file != "" && len(set) > 0 {
		return errors.New("give either -config or -set: a whole file is changed in the file")
	}
	q := whatif.Question{Settings: set, Acts: acts}
	if file != "" {
		cfg, err := config.Load(file)
		if err != nil {
			return err
		}
		q.Config = cfg
	}
	return o.open(ctx, fs.Arg(0), func(r *store.Reader, id store.RunID, sys units.System) error {
		a, err := whatif.Ask(ctx, r, id, q)
		if err != nil {
			return err
		}
		if asJSON {
			return a.WriteJSON(io.out, sys)
		}
		return a.WriteText(io.out, sys)
	})
}
