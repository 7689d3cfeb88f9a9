package dashboard

import (
	"net/http"
	"strings"

	"headroom/daemon/whatif"
)

// maxSettings bounds what one question may change.
const maxSettings = 40

// whatIfView asks what other limits would have made of a run.
type whatIfView struct {
	chrome
	Name, Href string
	// Text is what was written, a setting a line.
	Text     string
	Headline string
	Caution  string
	Rows     []whatIfRow
	Asked    bool
	Asis     int
}

// whatIfRow is an alarm as it was and as it would be.
type whatIfRow struct{ Kind, Title, Words, Tone string }

// whatIfPage runs the stored frames again under changed settings. It changes
// nothing, so the question stands in the address.
func (s *server) whatIfPage(w http.ResponseWriter, r *http.Request, a asked) {
	v := &whatIfView{chrome: s.chrome(r, "What if: "+a.run.ID.Words(), placeRuns), Name: sentence(a.run.ID.Words()), Href: runPath(a.run.ID, nil)}
	v.Band = a.run.Source.Band()
	v.CanUnits, v.Text, v.Caution = true, strings.TrimSpace(r.FormValue("set")), whatif.Caution
	if v.Text != "" {
		v.Asked = true
		if err := v.ask(r, a, s); err != nil {
			v.Asked, v.Trouble = false, asSentence(err)
		}
	}
	s.write(w, r, "runwhatif.html", v)
}

func (v *whatIfView) ask(r *http.Request, a asked, s *server) error {
	var q whatif.Question
	for line := range strings.Lines(v.Text) {
		if line = strings.TrimSpace(line); line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		set, err := whatif.ParseSetting(line)
		if err != nil {
			return err
		}
		if q.Settings = append(q.Settings, set); len(q.Settings) > maxSettings {
			return refusalError("too many settings at once; change some at a time")
		}
	}
	answer, err := whatif.Ask(r.Context(), a.rec, a.run.ID, q)
	if err != nil {
		return err
	}
	sys := s.prefsOf(r).Units
	v.Headline, v.Asis = answer.Headline(), len(answer.Asis)
	for i := range answer.Rows {
		row := &answer.Rows[i]
		one := row.Other
		if one == nil {
			one = row.Then
		}
		v.Rows = append(v.Rows, whatIfRow{string(row.Kind), one.Title(), row.Words(sys), tone(one.Level)})
	}
	return nil
}

// refusalError is an error in words for a person.
type refusalError string

func (e refusalError) Error() string { return string(e) }
