package dashboard

import (
	"bytes"
	"html/template"
	"net/http"
	"strings"
)

// regions are the parts of the live page that the stream sends anew, by the
// name of their template. The script grafts what is new onto what is there, so
// that a button stays the same under the finger that is on it.
func regions() []string {
	return []string{"head", "answer", "limits", "alarms", "channels", "events", "charts", "thumb"}
}

func parsePages() *template.Template {
	return template.Must(template.New("").ParseFS(files, "templates/*.html"))
}

func (s *server) livePage(w http.ResponseWriter, r *http.Request) {
	p := s.prefsOf(r)
	v := s.view(p)
	v.Charts = s.drawnCharts(p)
	v.Who, v.Nav = cookieName(r), s.nav(placeLive)
	s.write(w, r, "live.html", v)
}

func (s *server) cautionsPage(w http.ResponseWriter, r *http.Request) {
	c := s.chrome(r, "Cautions", placeHandbook)
	s.write(w, r, "cautions.html", &c)
}

// write renders the whole page before the first byte leaves, so that a fault
// in a template is a clear error and no half page.
func (s *server) write(w http.ResponseWriter, r *http.Request, name string, data any) {
	s.writeCode(w, r, http.StatusOK, name, data)
}

func (s *server) writeCode(w http.ResponseWriter, r *http.Request, code int, name string, data any) {
	var b bytes.Buffer
	if err := s.pages.ExecuteTemplate(&b, name, data); err != nil {
		s.log.Error("cannot make a page", "page", name, "err", err)
		http.Error(w, "the page cannot be made; the program's log says why", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	writePacked(w, r, code, b.Bytes())
}

// fragment renders one region.
func (s *server) fragment(name string, v *view) (string, error) {
	var b bytes.Buffer
	err := s.pages.ExecuteTemplate(&b, name, v)
	return b.String(), err
}

// nowhere answers an address that is none: people get a page with the way back,
// programs a line. One that is there for changes only is told as such.
func (s *server) nowhere(mux *http.ServeMux, w http.ResponseWriter, r *http.Request) {
	change := r.Clone(r.Context())
	change.Method = http.MethodPost
	if _, pattern := mux.Handler(change); pattern != "" {
		w.Header().Set("Allow", http.MethodPost)
		http.Error(w, "this address takes changes only", http.StatusMethodNotAllowed)
		return
	}
	if strings.HasPrefix(r.URL.Path, "/api/") || strings.HasPrefix(r.URL.Path, "/-/") {
		http.NotFound(w, r)
		return
	}
	s.refusePage(w, r, http.StatusNotFound, "There is no such page here. The address may be mistyped, or of another version.")
}
