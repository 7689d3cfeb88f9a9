package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"time"

	"headroom/daemon/config"
	"headroom/daemon/hardware"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors"
	"headroom/sensors/calibrate"
)

const calibrateUsage = "CHANNEL -config FILE, or -list, or -history CHANNEL, or -repair CHANNEL"

type calibrateFlags struct {
	runFlags
	list, history, repair bool
	tolerance             string
	days                  float64
}

// cmdCalibrate takes a person through the calibration of one channel, and
// shows those that were made.
func cmdCalibrate(ctx context.Context, args []string, io stdio) error {
	var o calibrateFlags
	fs := flags("calibrate", calibrateUsage, io)
	fs.StringVar(&o.config, "config", "", "config `file`; without it the default one, which simulates: a practice")
	fs.StringVar(&o.record, "record", "", "`folder` of the record, for the calibrations beside it")
	fs.BoolVar(&o.list, "list", false, "list the calibration in force of every channel")
	fs.BoolVar(&o.history, "history", false, "list every calibration of the channel")
	fs.BoolVar(&o.repair, "repair", false, "put a damaged file of the channel aside and go on with what is whole")
	fs.StringVar(&o.tolerance, "tolerance", "", "how still the reading must stand, with its `unit`; without it what suits the quantity")
	fs.Float64Var(&o.days, "days", 365, "for how many days it shall hold")
	name, args := leadingWord(args)
	if err := parse(fs, args); err != nil {
		return err
	}
	if name == "" {
		name = fs.Arg(0)
	}
	cfg, _, err := loadWithText(o.config)
	if err != nil {
		return err
	}
	store, err := calibrations(o.record, cfg)
	if err != nil {
		return err
	}
	if o.list {
		return listCalibrations(cfg, store, io)
	}
	ch, ok := frame.ByName(name)
	if !ok || ch.Digital() {
		return fmt.Errorf("cannot calibrate %q: name one of %s", name, strings.Join(analogNames(), ", "))
	}
	switch {
	case o.history:
		return historyOf(cfg, store, ch, io)
	case o.repair:
		return repair(store, ch, io)
	}
	return o.run(ctx, cfg, store, ch, io)
}

// leadingWord takes a first argument that is no flag.
func leadingWord(args []string) (word string, rest []string) {
	if len(args) > 0 && !strings.HasPrefix(args[0], "-") {
		return args[0], args[1:]
	}
	return "", args
}

func analogNames() (out []string) {
	for c := range frame.NumChannels {
		if !c.Digital() {
			out = append(out, c.String())
		}
	}
	return out
}

// run builds the channel's driver and begins the dialogue.
func (o *calibrateFlags) run(ctx context.Context, cfg *config.Config, store *calibrate.Store, ch frame.Channel, io stdio) error {
	tolerance, err := tolerance(ch.Quantity(), o.tolerance)
	if err != nil {
		return err
	}
	latest, err := store.Latest(ch)
	if err != nil {
		return fmt.Errorf("%w; headroom calibrate %s -repair puts the file aside", err, ch)
	}
	log := slog.New(slog.DiscardHandler)
	drivers, err := o.uncorrected(cfg, log)
	if err != nil {
		return err
	}
	driver := feeding(drivers, ch)
	if driver == nil {
		return fmt.Errorf("cannot calibrate %s: nothing in the config feeds it", ch)
	}
	d, err := calibrate.Begin(calibrate.Setup{Channel: ch, Tolerance: tolerance, Before: latest})
	if err != nil {
		return err
	}
	t := &talk{io: io, ch: ch, system: cfg.Units, dialogue: d, store: store, days: o.days, before: latest, now: time.Now}
	if !o.watchesHardware(cfg) {
		t.store = nil // a practice
	}
	return t.run(ctx, driver)
}

// uncorrected are the drivers without any calibration: a point is taken from
// the sensor's own reading.
func (o *calibrateFlags) uncorrected(cfg *config.Config, log *slog.Logger) ([]sensors.Driver, error) {
	if o.watchesHardware(cfg) {
		return hardware.Drivers(cfg, nil)
	}
	return o.drivers(cfg, log)
}

func feeding(drivers []sensors.Driver, ch frame.Channel) sensors.Driver {
	for _, d := range drivers {
		for _, c := range d.Channels() {
			if c == ch {
				return d
			}
		}
	}
	return nil
}

func tolerance(q units.Quantity, text string) (float64, error) {
	if text == "" {
		si, _ := calibrate.Tolerance(q) // every analog channel has one
		return si, nil
	}
	if q == units.Temperature {
		q = units.TemperatureDifference
	}
	v, err := units.Parse(q, text)
	if err == nil && !(v > 0) {
		err = errors.New("it must be above 0")
	}
	if err != nil {
		return 0, fmt.Errorf("cannot use the tolerance: %w", err)
	}
	return v, nil
}

func listCalibrations(cfg *config.Config, store *calibrate.Store, io stdio) error {
	n := 0
	for ch := range frame.NumChannels {
		all, err := store.Load(ch)
		if err != nil {
			fmt.Fprintf(io.out, "%s: %v\n", ch, err)
		}
		if len(all) > 0 {
			n++
			fmt.Fprintf(io.out, "%-16s %s\n", ch, oneLine(cfg, &all[len(all)-1]))
		}
	}
	if n == 0 {
		fmt.Fprintln(io.out, "No channel has a calibration.")
	}
	return nil
}

func historyOf(cfg *config.Config, store *calibrate.Store, ch frame.Channel, io stdio) error {
	all, err := store.Load(ch)
	for i := range all {
		fmt.Fprintln(io.out, oneLine(cfg, &all[i]))
		writePoints(io.out, cfg.Units, ch, all[i].Points)
	}
	if err == nil && len(all) == 0 {
		fmt.Fprintf(io.out, "%s has no calibration.\n", ch)
	}
	return err
}

// oneLine is one calibration: when, how, until when, by whom, with what.
func oneLine(cfg *config.Config, c *calibrate.Calibration) string {
	if c.Undone {
		return fmt.Sprintf("%s  not calibrated: the only one was undone by %s", c.Date.Format(time.DateOnly), c.Who)
	}
	text := fmt.Sprintf("%s  %-9s until %s  by %s", c.Date.Format(time.DateOnly), c.Method, c.ValidUntil().Format(time.DateOnly), c.Who)
	if c.Instrument != "" {
		text += " with " + c.Instrument
	}
	if _, why := c.Status(time.Now()); why != "" {
		text += "  (" + why + ")"
	}
	return text
}

func repair(store *calibrate.Store, ch frame.Channel, io stdio) error {
	aside, err := store.Repair(ch)
	switch {
	case err != nil:
		return err
	case aside == "":
		fmt.Fprintln(io.out, "Nothing is damaged.")
	default:
		fmt.Fprintf(io.out, "The damaged file is kept as %s; what is whole goes on.\n", aside)
	}
	return nil
}
