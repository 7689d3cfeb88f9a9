package dashboard

import (
	"net/http"
	"strings"

	"headroom/daemon/snapshot"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// setupView is what stands behind the readings: sensors, calibrations, limits,
// outputs, units and who may change things.
type setupView struct {
	chrome
	Channels []setupChannel
	Unfitted string
	Clock    string
	Practice string
	Who      string
	// Outputs counts those that are configured, HasGate says that there is a
	// PIN, In that this browser gave it.
	Outputs     int
	HasGate, In bool
	Notify      []notifyRow
}

// setupChannel is a channel with what is behind its value.
type setupChannel struct {
	channelRow
	Name string
	// Raw is the electrical signal in words, where the part shows one.
	Raw string
	// NoRaw is true where the readings come by no wire: simulated, played back.
	NoRaw bool
	// Calibration is its state in words, Due that it is time; CanCalibrate
	// leads to the page.
	Calibration       string
	Due, CanCalibrate bool
}

// notifyRow is one target of notifications.
type notifyRow struct{ Name, State string }

func (s *server) setupPage(w http.ResponseWriter, r *http.Request) {
	sys := s.prefsOf(r).Units
	v := &setupView{chrome: s.chrome(r, "Setup", placeSetup), Who: cookieName(r), HasGate: s.opt.Gate != nil}
	v.CanUnits, v.Script, v.Here = true, "renew.js", placeSetup
	v.In = v.HasGate && !v.AskPIN
	v.Practice = "Nothing can be calibrated now: the readings are played back, or nothing is kept here."
	if s.opt.Calibrator != nil {
		v.Practice = s.opt.Calibrator.Practice()
	}
	if s.opt.Outputs != nil {
		v.Outputs = len(s.opt.Outputs.TestOutputs())
	}
	if snap := s.feed.Latest(); snap != nil {
		v.Clock = clock(snap.Wall)
		v.Channels, v.Unfitted = s.setupChannels(snap, sys)
		v.Notify = notifyRows(snap.Health.Notify)
	}
	s.write(w, r, "setup.html", v)
}

func (s *server) setupChannels(snap *snapshot.Snapshot, sys units.System) (rows []setupChannel, unfitted string) {
	_, unfitted = s.channelRows(snap, sys)
	for c := range frame.NumChannels {
		smp := snap.Verdicts.Samples[c]
		if smp.Status == frame.NotFitted {
			continue
		}
		row := setupChannel{channelRow: s.channelRow(snap, c, sys), Name: c.String()}
		if engine.OnlyShown(c) {
			row.Note = strings.TrimPrefix(row.Note+"; shown and recorded, but no rule judges it", "; ")
		}
		switch {
		case s.opt.Raw != nil:
			row.Raw = s.opt.Raw(c)
		case s.opt.Source != "":
			// No figure is made up for a wire that isn't there.
			row.NoRaw = true
		}
		row.Calibration, row.Due = s.calibrationNote(c)
		row.CanCalibrate = s.opt.Calibrator != nil && s.opt.Calibrator.Cannot(c) == ""
		rows = append(rows, row)
	}
	return rows, unfitted
}

func notifyRows(all []snapshot.Notified) (out []notifyRow) {
	for _, n := range all {
		state := "takes messages"
		if n.Failing {
			state = "could not be reached lately; it is tried again"
		}
		out = append(out, notifyRow{n.Name, state})
	}
	return out
}
