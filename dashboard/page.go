package dashboard

import (
	"bytes"
	"html/template"
	"net/http"
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
	v.Charts, _ = s.drawnCharts(p)
	v.Who = cookieName(r)
	s.write(w, "live.html", v)
}

func (s *server) cautionsPage(w http.ResponseWriter, _ *http.Request) {
	s.write(w, "cautions.html", &view{MachineName: s.opt.MachineName, Version: s.opt.Version})
}

// write renders the whole page before the first byte leaves, so that a fault
// in a template is a clear error and no half page.
func (s *server) write(w http.ResponseWriter, name string, data any) {
	s.writeCode(w, http.StatusOK, name, data)
}

func (s *server) writeCode(w http.ResponseWriter, code int, name string, data any) {
	var b bytes.Buffer
	if err := s.pages.ExecuteTemplate(&b, name, data); err != nil {
		s.log.Error("cannot make a page", "page", name, "err", err)
		http.Error(w, "the page cannot be made; the program's log says why", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(code)
	_, _ = w.Write(b.Bytes()) // A reader who left is no fault.
}

// fragment renders one region.
func (s *server) fragment(name string, v *view) (string, error) {
	var b bytes.Buffer
	err := s.pages.ExecuteTemplate(&b, name, v)
	return b.String(), err
}
