package app

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"

	"headroom/daemon/store"
	"headroom/rules/frame"
	"headroom/sensors/calibrate"
)

// InForce returns the calibrations that the channels are read by now, as the
// record keeps them: their hash, and themselves in JSON in the order of
// channels. Two boots with the same hash were read alike.
func (c *Calibrator) InForce() (string, error) {
	all := []calibrate.Calibration{}
	for ch := range frame.NumChannels {
		if !c.channels[ch] {
			continue
		}
		latest, err := c.store.Latest(ch)
		if err != nil {
			return "", fmt.Errorf("cannot tell the calibration of %s: %w", ch.Label(), err)
		}
		if latest != nil {
			all = append(all, *latest)
		}
	}
	text, err := json.Marshal(all)
	if err != nil {
		return "", fmt.Errorf("cannot write the calibrations down: %w", err)
	}
	return fmt.Sprintf("sha256 %x %s", sha256.Sum256(text), text), nil
}

// noteCalibrations writes into the record what the channels are read by: at the
// start, and whenever that changes.
func (a *App) noteCalibrations() {
	if a.opt.Calibrator == nil || a.keeper == nil {
		return
	}
	text, err := a.opt.Calibrator.InForce()
	if err != nil {
		a.log.Warn("the record doesn't know the calibrations", "error", err)
		return
	}
	act := a.actNow(program, store.CalibrationsInForce)
	act.Text = text
	a.keeper.scribe.add(act, nil)
}
