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
	return hardware.Drivers(cfg, cal)
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
