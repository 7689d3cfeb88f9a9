package dashboard

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors/calibrate"
)

// calibrateSaid are the answers that a page may show after a step; the address
// carries only their names.
var calibrateSaid = map[string]string{
	"saved":     "Saved, and in use from now on.",
	"undone":    "Undone. What is in use now stands below.",
	"cancelled": "Given up. Nothing was changed.",
}

// saidOf is the answer that the address names.
func saidOf(r *http.Request, all map[string]string) string { return all[r.URL.Query().Get("said")] }

// calibrateForm takes one step of a calibration and shows the page anew.
func (s *server) calibrateForm(w http.ResponseWriter, r *http.Request) {
	ch, ok := frame.ByName(r.PathValue("channel"))
	if !ok || s.opt.Calibrator == nil {
		s.refusePage(w, r, http.StatusNotFound, "There is no such channel to calibrate here.")
		return
	}
	said, err := s.calibrateStep(r, ch)
	if err != nil {
		s.showCalibration(w, r, http.StatusConflict, asSentence(err))
		return
	}
	to := calibratePath(ch)
	if said != "" {
		to += "?said=" + said
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

var errNoStep = errors.New("there is no such step")

// calibrateStep does what a form asks for.
func (s *server) calibrateStep(r *http.Request, ch frame.Channel) (said string, err error) {
	c, who := s.opt.Calibrator, s.whoOf(r)
	switch step := r.PathValue("step"); step {
	case "begin":
		return "", c.Begin(ch, who)
	case "undo":
		back, err := c.Undo(ch, r.PostFormValue("mark"), who)
		if err != nil {
			return "", err
		}
		return "undone", s.noteCalibration(r.Context(), ch, "undone; in use again: "+describe(&back), who)
	case "confirm":
		return s.confirmCalibration(r, ch, who)
	default:
		e, said, err := s.calibrateEvent(r, ch, step)
		if err != nil {
			return "", err
		}
		return said, c.Next(ch, r.PostFormValue("mark"), e)
	}
}

// calibrateEvent reads the steps between the first and the last.
func (s *server) calibrateEvent(r *http.Request, ch frame.Channel, step string) (e calibrate.Event, said string, err error) {
	switch step {
	case "choose":
		return calibrate.Choose{Method: calibrate.Method(r.PostFormValue("method"))}, "", nil
	case "take":
		si, err := parseIn(ch.Quantity(), s.prefsOf(r).Units, r.PostFormValue("reference"))
		if err != nil {
			return nil, "", fmt.Errorf("cannot take the point: %w", err)
		}
		return calibrate.Take{Reference: si}, "", nil
	case "enough":
		return calibrate.Enough{}, "", nil
	case "back":
		return calibrate.Back{}, "", nil
	case "cancel":
		return calibrate.Cancel{}, "cancelled", nil
	}
	return nil, "", errNoStep
}

// parseIn reads a number in the shown unit, or with a unit of its own.
func parseIn(q units.Quantity, sys units.System, text string) (float64, error) {
	text, err := typedNumber(text, units.For(q, sys).Symbol)
	if err != nil {
		return 0, err
	}
	return units.Parse(q, text)
}

// confirmCalibration signs, saves and puts to work.
func (s *server) confirmCalibration(r *http.Request, ch frame.Channel, who string) (said string, err error) {
	days, err := strconv.ParseFloat(strings.TrimSpace(r.PostFormValue("days")), 64)
	if err != nil {
		return "", errors.New("cannot save: write for how many days it holds, for example 365")
	}
	e := calibrate.Confirm{
		Who: who, Instrument: cleanNote(r.PostFormValue("instrument")), Note: cleanNote(r.PostFormValue("note")),
		Date: s.opt.Now(), ValidDays: days,
	}
	if err := s.opt.Calibrator.Next(ch, r.PostFormValue("mark"), e); err != nil {
		return "", err
	}
	v, _ := s.opt.Calibrator.View(ch)
	return "saved", s.noteCalibration(r.Context(), ch, describe(&v.Calibration), who)
}

// describe is a calibration in one line for the record.
func describe(c *calibrate.Calibration) string {
	text := kindWords(c)
	for i, p := range c.Points {
		text += fmt.Sprintf("; point %d: sensor %.6g, reference %.6g, before %.6g (SI)", i+1, p.Raw, p.Reference, p.AsFound)
	}
	if c.Instrument != "" {
		text += "; against " + c.Instrument
	}
	return text
}

// noteCalibration puts it into the record of the run. What is done is done,
// so a failure says so.
func (s *server) noteCalibration(ctx context.Context, ch frame.Channel, text, who string) error {
	if err := s.note(ctx, "calibration", ch.Label()+": "+text, who); err != nil {
		return fmt.Errorf("the calibration is in use, but the record of the run could not take it: %w", err)
	}
	return nil
}

// note puts what a person did into the record, where one is kept.
func (s *server) note(ctx context.Context, what, text, who string) error {
	if s.opt.Note == nil {
		return nil
	}
	return s.opt.Note(ctx, what, text, who)
}

// refusePage says why something was not done.
func (s *server) refusePage(w http.ResponseWriter, r *http.Request, code int, text string) {
	s.writeCode(w, r, code, "refused.html", &refusedView{chrome: s.chrome(r, "Not done", ""), Text: text})
}
