package main

import (
	"errors"
	"log/slog"
	"os"
	"path/filepath"

	"headroom/daemon/app"
	"headroom/daemon/config"
	"headroom/daemon/hardware"
	"headroom/daemon/sdnotify"
	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/calibrate"
)

// watchesHardware reports whether the readings come from real sensors.
func (o *runFlags) watchesHardware(cfg *config.Config) bool {
	return o.playback == "" && o.scenario == "" && cfg.Sensors.Any()
}

// hardwareDrivers makes the sensors' drivers with their calibrations. A folder
// of calibrations that can't be made is no reason not to watch.
func (o *runFlags) hardwareDrivers(cfg *config.Config, log *slog.Logger) ([]sensors.Driver, error) {
	if o.speed != 0 && o.speed != 1 {
		return nil, errors.New("real sensors can't run faster than life; leave -speed out")
	}
	var cal *hardware.Calibrations
	store, err := calibrations(o.record, cfg)
	if err != nil {
		log.Warn("no calibrations", "error", err)
	} else {
		cal = hardware.NewCalibrations(store, nil)
	}
	set, err := hardware.Env{}.Build(cfg, cal)
	if err != nil {
		return nil, err
	}
	if cal != nil {
		o.calibrator = app.NewCalibrator(cal, store, channelsOf(set.Drivers), "", nil)
	}
	o.raw = set.Raw
	return set.Drivers, nil
}

// practice puts calibrations between simulated sensors and the program, kept
// apart from those of real ones.
func (o *runFlags) practice(cfg *config.Config, opt *app.Options) {
	if o.watchesHardware(cfg) || o.playback != "" {
		return
	}
	store, err := o.practiceStore(cfg)
	if err != nil {
		opt.Log.Warn("simulated sensors can't be calibrated", "error", err)
		return
	}
	cal := hardware.NewCalibrations(store, nil)
	o.calibrator = app.NewCalibrator(cal, store, channelsOf(opt.Drivers), practiceWords, nil)
	for i, d := range opt.Drivers {
		opt.Drivers[i] = cal.Wrap(d)
	}
}

const practiceWords = "The readings are simulated: a calibration made here is a practice. It corrects the simulated sensor, and is kept apart from those of real ones."

func (o *runFlags) practiceStore(cfg *config.Config) (*calibrate.Store, error) {
	if o.noRecord {
		return nil, errors.New("-no-record keeps nothing, and so no calibration")
	}
	folder, err := recordFolder(o.record, cfg.Record.Folder)
	if err != nil {
		return nil, err
	}
	return calibrate.NewStore(filepath.Join(folder, "calibrations-simulated"))
}

// channelsOf are the channels that drivers feed.
func channelsOf(drivers []sensors.Driver) (out []frame.Channel) {
	for _, d := range drivers {
		out = append(out, d.Channels()...)
	}
	return out
}

// calibrations opens the folder of the calibrations: the config's, else one in
// the record's folder.
func calibrations(record string, cfg *config.Config) (*calibrate.Store, error) {
	dir := cfg.Sensors.Calibrations
	if dir == "" {
		folder, err := recordFolder(record, cfg.Record.Folder)
		if err != nil {
			return nil, err
		}
		dir = filepath.Join(folder, "calibrations")
	}
	return calibrate.NewStore(dir)
}

// outside fills in what the program drives and reports to: outputs with real
// sensors only, so that no simulated fault stops a machine, and the service
// manager if there is one.
func (o *runFlags) outside(cfg *config.Config, opt *app.Options) error {
	if o.watchesHardware(cfg) {
		opt.Speed = 1
		out, err := hardware.NewOutputs(cfg, opt.Log)
		if err != nil {
			return err
		}
		if out != nil { // a nil pointer in an interface is no nil interface
			opt.Outputs = out
		}
	}
	manager, err := sdnotify.FromEnv(os.Getenv)
	if err != nil {
		opt.Log.Warn("no service manager", "error", err)
	}
	opt.Manager = manager
	return nil
}
