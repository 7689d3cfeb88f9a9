package dashboard

import (
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"strings"
)

// manualView is a page of the handbook that was written as a text with marks.
type manualView struct {
	chrome
	Body template.HTML
	// Contents are the text's second headings.
	Contents []heading
}

// manual is a text of the handbook.
type manual struct {
	title string
	// text returns the text; base is what its pictures' names stand below.
	text func() ([]byte, error)
	base string
}

const wiringPath = placeHandbook + "/wiring"

// manuals are the texts that this program has, by the last part of their
// address.
func (s *server) manuals() map[string]manual {
	out := map[string]manual{}
	if s.opt.Physics != nil {
		out["physics"] = manual{title: "Physics", text: func() ([]byte, error) { return []byte(s.opt.Physics()), nil }}
	}
	if s.opt.Wiring != nil {
		out["wiring"] = manual{title: "Wiring", base: wiringPath + "/", text: func() ([]byte, error) { return fs.ReadFile(s.opt.Wiring, "README.md") }}
	}
	return out
}

func (s *server) manualPage(w http.ResponseWriter, r *http.Request) {
	m, ok := s.manuals()[r.PathValue("manual")]
	if !ok {
		s.refusePage(w, r, http.StatusNotFound, "The handbook has no such page.")
		return
	}
	text, err := m.text()
	if err != nil {
		s.log.Error("cannot read a page of the handbook", "page", m.title, "err", err)
		s.refusePage(w, r, http.StatusInternalServerError, "That page of the handbook can't be read.")
		return
	}
	body, contents := markdown(string(text), m.base)
	v := &manualView{chrome: s.chrome(r, m.title, placeHandbook), Body: body, Contents: contents}
	s.write(w, r, "manual.html", v)
}

// wiringPicture serves a drawing of the wiring guide. Its own policy allows
// the drawing's style and nothing else.
func (s *server) wiringPicture(w http.ResponseWriter, r *http.Request) {
	name := path.Base(r.PathValue("picture"))
	if s.opt.Wiring == nil || !strings.HasSuffix(name, ".svg") {
		http.NotFound(w, r)
		return
	}
	data, err := fs.ReadFile(s.opt.Wiring, name)
	if err != nil {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", "image/svg+xml")
	w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'")
	w.Header().Set("Cache-Control", "no-cache")
	_, _ = w.Write(data) // A reader who left is no fault.
}
