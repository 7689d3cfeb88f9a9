package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	goio "io"
	"log/slog"
	"os"
	"path/filepath"
	"runtime/debug"
	"time"

	"headroom/daemon/app"
	"headroom/daemon/config"
	"headroom/daemon/store"
	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/csvfile"
	"headroom/sensors/plant"
	"headroom/sensors/scenario"
	"headroom/sensors/sim"
)

type runFlags struct {
	config, listen, record, scenario, playback string
	speed                                      float64
	noRecord, verbose                          bool
	// calibrator and raw come with the drivers; nil where there is nothing to
	// calibrate and no signal to show.
	calibrator *app.Calibrator
	raw        func(frame.Channel) string
	// brief is the folder of a PIN that lasts as long as the program.
	brief string
	// access is the folder of the PIN in use.
	access string
}

// cmdRun watches until it is told to stop. Without a config it runs the
// simulator, so that anybody sees the whole program in one command.
func cmdRun(ctx context.Context, args []string, io stdio) error {
	var o runFlags
	fs := flags("run", "[flags]", io)
	fs.StringVar(&o.config, "config", "", "config `file`; without it the default one, which simulates an invented machine")
	fs.StringVar(&o.listen, "listen", "", "`host:port` of the dashboard, instead of the config's")
	fs.StringVar(&o.record, "record", "", "`folder` of the record, instead of the config's")
	fs.BoolVar(&o.noRecord, "no-record", false, "keep no record")
	fs.StringVar(&o.scenario, "scenario", "", "simulate this scenario `file` instead of the config's")
	fs.StringVar(&o.playback, "playback", "", "play this recording `file` live instead of reading sensors, over and over, with a gap between the rounds")
	fs.Float64Var(&o.speed, "speed", 0, "how much faster than life the simulator or a playback runs; 0 for what the config says")
	fs.BoolVar(&o.verbose, "v", false, "log more")
	if err := parse(fs, args); err != nil {
		return err
	}
	if fs.NArg() > 0 {
		return fmt.Errorf("run takes no %q; did you mean headroom replay %s?", fs.Arg(0), fs.Arg(0))
	}
	opt, err := o.options(io)
	defer o.forgetPIN()
	if err != nil {
		return err
	}
	saveMemory()
	a, err := app.New(opt)
	if err != nil {
		return err
	}
	o.givePIN(&opt, io)
	o.greet(a, opt, io)
	return errors.Join(a.Run(ctx), a.Close())
}

// gcPercent has the program collect its garbage twice as often as is usual: on
// a small board five megabytes less are worth a thousandth of a core more.
const gcPercent = 50

// saveMemory keeps the program small, unless who starts it knows better.
func saveMemory() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(gcPercent)
	}
}

// options turns flags and config into the program's options.
func (o *runFlags) options(io stdio) (app.Options, error) {
	cfg, text, err := loadWithText(o.config)
	if err != nil {
		return app.Options{}, err
	}
	level := slog.LevelInfo
	if o.verbose {
		level = slog.LevelDebug
	}
	log := slog.New(slog.NewTextHandler(io.err, &slog.HandlerOptions{Level: level}))
	opt := app.Options{Config: cfg, ConfigText: text, ConfigFile: o.config, Listen: cfg.Listen, Version: versionString(), Log: log}
	if o.listen != "" {
		if err := config.CheckAddress(o.listen); err != nil {
			return opt, fmt.Errorf("-listen %w", err)
		}
		opt.Listen = o.listen
	}
	if !o.noRecord {
		if opt.Folder, err = recordFolder(o.record, cfg.Record.Folder); err != nil {
			return opt, err
		}
	}
	if err := errors.Join(o.guardChanges(&opt), encrypt(cfg, &opt)); err != nil {
		return opt, err
	}
	opt.Speed = o.speed
	if o.speed == 0 && o.playback == "" {
		opt.Speed = cfg.Simulator.Speed
	}
	if err := o.keepsApart(&opt); err != nil {
		return opt, err
	}
	if err := o.outside(cfg, &opt); err != nil {
		return opt, err
	}
	opt.Source, opt.Readings = o.source(cfg)
	opt.Drivers, err = o.drivers(cfg, log)
	o.practice(cfg, &opt)
	opt.Calibrator, opt.Raw = o.calibrator, o.raw
	return opt, err
}

// keepsApart refuses to record time that runs faster than life among real days:
// it would lie in the future, and the runs after it would overlap it.
func (o *runFlags) keepsApart(opt *app.Options) error {
	if opt.Speed == 0 || opt.Speed == 1 || opt.Folder == "" || o.record != "" {
		return nil
	}
	return fmt.Errorf("at speed %g the record would run into the future and overlap the days after: add -no-record, or -record FOLDER for a record to throw away", opt.Speed)
}

// source says where readings come from that no sensor of this machine gives;
// empty for real ones. The kind goes into the record.
func (o *runFlags) source(cfg *config.Config) (words string, kind store.Readings) {
	switch {
	case o.playback != "":
		return "Played back, not this machine now", store.FromPlayback
	case cfg.Simulator.On || o.scenario != "":
		return "Simulated: an invented machine", store.FromSimulator
	}
	return "", store.FromSensors
}

func loadWithText(path string) (*config.Config, []byte, error) {
	if path == "" {
		var text bytes.Buffer
		err := config.WriteDefault(&text)
		return config.Default(), text.Bytes(), err
	}
	return config.LoadText(path)
}

// drivers makes what feeds the channels.
func (o *runFlags) drivers(cfg *config.Config, log *slog.Logger) ([]sensors.Driver, error) {
	if o.playback != "" {
		return o.playbackDriver(cfg)
	}
	if o.watchesHardware(cfg) {
		return o.hardwareDrivers(cfg, log)
	}
	if !cfg.Simulator.On && o.scenario == "" {
		return nil, errors.New("no sensor is configured and the simulator is off; add sensors as \"headroom scan\" proposes them, set simulator.on = true, or play a recording with -playback")
	}
	s, err := o.loadScenario(cfg)
	if err != nil {
		return nil, err
	}
	if s.Machine.Drive.Kind == plant.Engine {
		// What is asked before the start follows from what turns the pump: an
		// engine's exhaust and no cord, whatever the config says.
		cfg.Drive = config.EngineDriven
	}
	channels := simulated(cfg, s)
	cfg.Engine = fitTo(cfg.Engine, channels)
	fitStale(cfg)
	d, err := sim.New(sim.Options{Scenario: s, Channels: channels, Loop: true})
	if err != nil {
		return nil, fmt.Errorf("cannot simulate %s: %w", s.Title, err)
	}
	return []sensors.Driver{d}, nil
}

func (o *runFlags) loadScenario(cfg *config.Config) (*scenario.Scenario, error) {
	path := cfg.Simulator.Scenario
	if o.scenario != "" {
		path = o.scenario
	}
	if path == "" || path == "demo" {
		return scenario.Demo()
	}
	return scenario.Load(os.DirFS(filepath.Dir(path)), filepath.Base(path))
}

// simulated are the channels that the config has and the scenario's machine
// too: an engine has no motor current, whatever the config says.
func simulated(cfg *config.Config, s *scenario.Scenario) []frame.Channel {
	var out []frame.Channel
	for _, c := range sim.DefaultChannels(s) {
		if cfg.Engine.Signals[c].Fitted {
			out = append(out, c)
		}
	}
	return out
}

// fitStale gives every channel that is fitted now an age, and no other.
func fitStale(cfg *config.Config) {
	for c := range cfg.Stale {
		switch fitted := cfg.Engine.Signals[c].Fitted; {
		case !fitted:
			cfg.Stale[c] = 0
		case cfg.Stale[c] <= 0:
			cfg.Stale[c] = staleDefault
		}
	}
}

// staleDefault holds for a channel that only a recording has.
const staleDefault = 2 * time.Second

// hasRows looks for the first row that can be played, so that a recording
// without any is refused at once and not tried for ever.
func (o *runFlags) hasRows(cfg *config.Config) (err error) {
	f, err := os.Open(o.playback)
	if err != nil {
		return fmt.Errorf("cannot open the recording: %w", err)
	}
	defer f.Close() // only read from
	var first error
	r, err := csvfile.NewReader(bufio.NewReader(f), o.playback, csvMap(cfg.CSV), csvfile.Options{OnProblem: func(e csvfile.RowError) {
		if first == nil {
			first = &e
		}
	}})
	if err != nil {
		return err
	}
	var row frame.Frame
	switch _, _, err = r.Next(&row); {
	case errors.Is(err, goio.EOF) && first != nil:
		return fmt.Errorf("cannot play %s: it has no usable row; the first trouble: %w", o.playback, first)
	case errors.Is(err, goio.EOF):
		return fmt.Errorf("cannot play %s: it has no row", o.playback)
	}
	return err
}

func (o *runFlags) playbackDriver(cfg *config.Config) ([]sensors.Driver, error) {
	if err := o.hasRows(cfg); err != nil {
		return nil, err
	}
	open := func() (goio.ReadCloser, error) { return os.Open(o.playback) }
	d, err := csvfile.NewDriver(o.playback, open, csvMap(cfg.CSV), csvfile.DriverOptions{ClockSpeed: o.speed, Loop: true, Rest: rest(cfg)})
	if err != nil {
		return nil, err
	}
	cfg.Engine = fitTo(cfg.Engine, d.Channels())
	fitStale(cfg)
	return []sensors.Driver{d}, nil
}

// rest is the pause between two rounds of a recording: longer than anything
// bridges.
func rest(cfg *config.Config) time.Duration { return cfg.Engine.MaxGap + time.Second }

// recordFolder is the folder of the record: the flag's, the config's, or one
// in the user's own state.
func recordFolder(flag, fromConfig string) (string, error) {
	for _, dir := range []string{flag, fromConfig, os.Getenv("STATE_DIRECTORY"), xdgState()} {
		if dir != "" {
			return dir, nil
		}
	}
	return "", errors.New("cannot find a folder for the record; name one with -record, or use -no-record")
}

func xdgState() string {
	if d := os.Getenv("XDG_STATE_HOME"); d != "" {
		return filepath.Join(d, "headroom")
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return ""
	}
	return filepath.Join(home, ".local", "state", "headroom")
}

// cannotWrite says why nothing can be recorded in a folder now; empty where it
// can.
func cannotWrite(folder string) string {
	f, err := os.CreateTemp(folder, ".try-*")
	if err == nil {
		err = errors.Join(f.Close(), os.Remove(f.Name()))
	}
	if err != nil {
		return fmt.Sprintf(" – NOTHING IS RECORDED there now: %v; it is tried again", err)
	}
	return ""
}

// greet says where to look, in the few lines that a new user reads.
func (o *runFlags) greet(a *app.App, opt app.Options, io stdio) {
	fmt.Fprintf(io.out, "headroom %s watches %s.\n", opt.Version, opt.Config.Name)
	if opt.Source != "" {
		fmt.Fprintf(io.out, "The readings are not a machine's own. %s.\n", opt.Source)
	}
	if o.playback != "" {
		fmt.Fprintf(io.out, "At its end the recording begins anew, after a gap of %v without frames.\n", rest(opt.Config))
	}
	for i, url := range a.URLs() {
		if i == 0 {
			fmt.Fprintf(io.out, "Dashboard: %s    Metrics: %smetrics\n", url, url)
			continue
		}
		fmt.Fprintf(io.out, "       or: %s\n", url)
	}
	if opt.Folder != "" {
		fmt.Fprintf(io.out, "Record: %s%s\n", opt.Folder, cannotWrite(opt.Folder))
	}
	fmt.Fprintln(io.out, "It is an aid and no certified safety device. Ctrl-C stops it.")
}
