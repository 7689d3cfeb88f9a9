package dashboard

import (
	"net/http"
	"strings"
)

// outputsView is the page where the outputs are tried.
type outputsView struct {
	chrome
	Outputs []OutputState
	State   string
	Clock   string
}

const outputsPath = placeSetup + "/outputs"

// outputsSaid are the answers after a press without a script.
var outputsSaid = map[string]string{
	"held":  "It is driven for a moment: look and listen.",
	"reset": "The reset was asked for. The relay closes if no reason to stop stands.",
}

func (s *server) outputsPage(w http.ResponseWriter, r *http.Request) {
	s.showOutputs(w, r, http.StatusOK, "")
}

func (s *server) showOutputs(w http.ResponseWriter, r *http.Request, code int, trouble string) {
	v := &outputsView{chrome: s.chrome(r, "Outputs", placeSetup)}
	v.Here, v.Trouble, v.Script, v.Said = outputsPath, trouble, "hold.js", saidOf(r, outputsSaid)
	if s.opt.Outputs != nil {
		v.Outputs = s.opt.Outputs.TestOutputs()
	}
	if snap := s.feed.Latest(); snap != nil {
		v.State, v.Clock = sentence(snap.Verdicts.Machine.Words()), clock(snap.Wall)
	}
	s.writeCode(w, r, code, "outputs.html", v)
}

// outputForm holds, releases or resets an output. A script says "hold" again
// and again while the button is down and "release" when it goes up; a form
// without one gives a moment. All of it is refused while the machine runs, by
// whoever drives the outputs.
func (s *server) outputForm(w http.ResponseWriter, r *http.Request) {
	name, said, press := r.PathValue("name"), "", r.Header.Get("X-Held")
	var err error
	switch r.PathValue("do") {
	case "hold":
		said, err = "held", s.holdOutput(r, name, press)
	case "release":
		s.opt.Outputs.ReleaseOutput(name, press)
	case "reset":
		said = "reset"
		if err = s.opt.Outputs.ResetStop(); err == nil {
			err = s.note(r.Context(), "stop_reset", "reset of the stop relay asked for from the dashboard", s.whoOf(r))
		}
	default:
		s.refusePage(w, r, http.StatusNotFound, "That can't be done to an output.")
		return
	}
	switch json := strings.Contains(r.Header.Get("Accept"), "application/json"); {
	case json && err != nil:
		s.writeJSON(w, http.StatusConflict, object{"error": asSentence(err)})
	case json:
		s.writeJSON(w, http.StatusOK, object{"version": 1, "text": outputsSaid[said]})
	case err != nil:
		s.showOutputs(w, r, http.StatusConflict, asSentence(err))
	default:
		http.Redirect(w, r, outputsPath+"?said="+said, http.StatusSeeOther)
	}
}

// holdOutput drives an output, and notes each press once: what a lamp, a horn or
// a relay did then was a person's trial and no alarm. Where the record can't
// take that the trial goes on, as it proves the output also on a failing medium.
func (s *server) holdOutput(r *http.Request, name, press string) error {
	began, err := s.opt.Outputs.HoldOutput(name, press)
	if err != nil || !began {
		return err
	}
	who, label := s.whoOf(r), name
	for _, o := range s.opt.Outputs.TestOutputs() {
		if o.Name == name {
			label = strings.ToLower(o.Label)
		}
	}
	s.log.Info("an output is tried", "output", name, "who", who)
	if err := s.note(r.Context(), "output_trial", "Trial of the "+label+" from the dashboard, no alarm", who); err != nil {
		s.log.Warn("the record of the run could not take the trial of an output", "output", name, "err", err)
	}
	return nil
}
