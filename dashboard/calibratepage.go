package dashboard

import (
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors/calibrate"
)

// calibrateView is the page of one channel's calibration.
type calibrateView struct {
	chrome
	Channel, Label, Place, Unit string
	// Cannot says why there is nothing to do here, Practice what is different
	// from real sensors.
	Cannot, Practice string
	CanAct           bool
	// Session is the one under way or just ended; nil for none.
	Session *sessionView
	// History is newest first; Damage says what of it is lost. HistoryMark names
	// the newest, and Undone what an undo puts in use, in words.
	History             []calibrationRow
	HistoryMark, Undone string
	Damage              string
	Who                 string
	// Days is for how long a calibration holds where nothing else is said.
	Days int
}

// sessionView is a calibration under way in words.
type sessionView struct {
	Step, Todo, Mark, Who, Began string
	Method                       string
	Active                       bool
	// Reading is the sensor's own mean, Now what the calibration in force makes
	// of it, Steady whether a point may be taken, Why not.
	Reading, Now, Sensor, Why string
	Steady                    bool
	N, Of                     int
	Points                    []pointRow
	Next                      int
	Doubts                    []string
	Problem                   string
	CanTake, CanEnd, CanBack  bool
}

// pointRow is one comparison with the reference.
type pointRow struct{ N, Raw, Reference, Before, After string }

// calibrationRow is one calibration that was made.
type calibrationRow struct {
	Date, Until, Method, Who, Instrument, Note, Doubt string
	Points                                            []pointRow
	After                                             string
	InForce                                           bool
}

// holdsDays is for how long a calibration holds where nobody says otherwise.
// Common practice, no source.
const holdsDays = 365

func (s *server) calibratePage(w http.ResponseWriter, r *http.Request) {
	s.showCalibration(w, r, http.StatusOK, "")
}

// showCalibration writes the page, with why something was not done.
func (s *server) showCalibration(w http.ResponseWriter, r *http.Request, code int, trouble string) {
	ch, ok := frame.ByName(r.PathValue("channel"))
	if !ok || s.opt.Calibrator == nil {
		s.refusePage(w, r, http.StatusNotFound, "There is no such channel to calibrate here.")
		return
	}
	sys := s.prefsOf(r).Units
	v := &calibrateView{
		chrome: s.chrome(r, "Calibration: "+ch.Label(), placeSetup), Channel: ch.String(), Label: ch.Label(), Place: ch.Place(),
		Cannot: s.opt.Calibrator.Cannot(ch), Practice: s.opt.Calibrator.Practice(), Who: cookieName(r), Days: holdsDays,
		Unit: units.For(ch.Quantity(), sys).Symbol,
	}
	v.Here, v.CanUnits, v.Trouble, v.Script = calibratePath(ch), true, trouble, "renew.js"
	v.CanAct = v.Cannot == ""
	v.Said = saidOf(r, calibrateSaid)
	all, err := s.opt.Calibrator.History(ch)
	if err != nil {
		v.Damage = asSentence(err)
	}
	for i := len(all) - 1; i >= 0; i-- {
		v.History = append(v.History, calibrationRowOf(&all[i], ch, sys, s.opt.Now(), i == len(all)-1))
	}
	v.HistoryMark, v.Undone = calibrate.Mark(all), undoneWords(all)
	if view, ok := s.opt.Calibrator.View(ch); ok {
		v.Session = sessionViewOf(&view, ch, sys)
	}
	s.writeCode(w, r, code, "calibrate.html", v)
}

func calibratePath(ch frame.Channel) string { return "/calibration/" + ch.String() }

// fine writes a value with two more digits than a screen shows, since a
// calibration is about the small differences.
func fine(ch frame.Channel, sys units.System, si float64) string {
	if math.IsNaN(si) || math.IsInf(si, 0) {
		return "--"
	}
	u := units.For(ch.Quantity(), sys)
	return strings.TrimSpace(strconv.FormatFloat(u.FromSI(si), 'f', u.Decimals+2, 64) + " " + u.Symbol)
}

func sessionViewOf(c *CalibrationView, ch frame.Channel, sys units.System) *sessionView {
	v := &sessionView{
		Step: stepName(c.Step), Todo: c.Todo, Mark: c.Mark, Who: c.Who, Began: c.Began.Format("15:04"), Active: c.Active,
		Method: string(c.Calibration.Method), Steady: c.Live.Steady, Why: c.Live.Why, N: c.Live.N, Of: calibrate.WindowSize,
		Points: pointRows(c.Calibration.Points, ch, sys), Next: len(c.Calibration.Points) + 1, Doubts: c.Doubts, Problem: c.Problem,
		CanTake: c.CanTake, CanEnd: c.CanEnd, CanBack: c.CanBack, Sensor: c.Status.Words(), Reading: "--", Now: "--",
	}
	if c.Status == frame.NotFitted {
		v.Sensor = "no reading yet"
	}
	if c.Live.N > 0 {
		v.Reading, v.Now = fine(ch, sys, c.Live.Mean), fine(ch, sys, c.Live.Mean)
		if c.Before != nil {
			v.Now = "--"
			if now, ok := c.Before.Apply(c.Live.Mean); ok {
				v.Now = fine(ch, sys, now)
			}
		}
	}
	return v
}

// stepName is a step as the template knows it.
func stepName(s calibrate.Step) string {
	return [...]string{"method", "take", "take", "review", "review", "done", "cancelled"}[min(int(s), 6)]
}

func pointRows(points []calibrate.Point, ch frame.Channel, sys units.System) (out []pointRow) {
	for i, p := range points {
		out = append(out, pointRow{
			strconv.Itoa(i + 1), fine(ch, sys, p.Raw), fine(ch, sys, p.Reference), fine(ch, sys, p.AsFound), fine(ch, sys, p.AsLeft),
		})
	}
	return out
}

func calibrationRowOf(c *calibrate.Calibration, ch frame.Channel, sys units.System, now time.Time, inForce bool) calibrationRow {
	row := calibrationRow{
		Date: c.Date.Format(time.DateOnly), Until: c.ValidUntil().Format(time.DateOnly), Method: kindWords(c), Who: c.Who,
		Instrument: c.Instrument, Note: c.Note, Points: pointRows(c.Points, ch, sys), InForce: inForce,
	}
	if c.Undone {
		row.Until = "" // nothing was compared, so nothing holds
	}
	if inForce {
		_, row.Doubt = c.Status(now)
	}
	if c.After != nil {
		row.After = fine(ch, sys, *c.After)
	}
	return row
}

// undoneWords says what is in use after the newest was undone; empty where
// there is nothing to undo.
func undoneWords(all []calibrate.Calibration) string {
	switch n := len(all); n {
	case 0:
		return ""
	case 1:
		return "the sensor's own scale, as before the first calibration"
	default:
		c := &all[n-2]
		if c.Undone {
			return kindWords(c)
		}
		return fmt.Sprintf("%s of %s by %s", methodWords(c.Method), c.Date.Format(time.DateOnly), c.Who)
	}
}

// kindWords says what an entry of the history is.
func kindWords(c *calibrate.Calibration) string {
	if c.Undone {
		return "the sensor's own scale, not calibrated"
	}
	return methodWords(c.Method)
}

func methodWords(m calibrate.Method) string {
	switch m {
	case calibrate.None:
		return "no correction"
	case calibrate.Zero:
		return "zero (one point)"
	case calibrate.TwoPoint:
		return "two points"
	case calibrate.Table:
		return "table"
	}
	return string(m)
}

// calibrationNote is what a channel's calibration is, in a few words.
func (s *server) calibrationNote(ch frame.Channel) (text string, due bool) {
	if s.opt.Calibrator == nil || s.opt.Calibrator.Cannot(ch) != "" {
		return "", false
	}
	all, err := s.opt.Calibrator.History(ch)
	if err != nil {
		return "its file of calibrations is damaged", true
	}
	if len(all) == 0 {
		return "never calibrated here", false
	}
	c := &all[len(all)-1]
	if c.Undone {
		return fmt.Sprintf("not calibrated: the only one was undone on %s by %s", c.Date.Format(time.DateOnly), c.Who), false
	}
	if _, why := c.Status(s.opt.Now()); why != "" {
		return why, true
	}
	return fmt.Sprintf("calibrated on %s by %s, holds until %s", c.Date.Format(time.DateOnly), c.Who, c.ValidUntil().Format(time.DateOnly)), false
}
