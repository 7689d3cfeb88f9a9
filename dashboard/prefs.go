package dashboard

import (
	"net/http"
	"strings"
	"time"

	"headroom/rules/units"
)

// prefs is what one person wants to see.
type prefs struct {
	Units  units.System
	Window time.Duration
	// unitsQuery is what the address asked for, so that links keep it.
	unitsQuery string
}

// unitsCookie remembers the choice in this browser only.
const unitsCookie = "headroom_units"

const (
	shortWindow = 5 * time.Minute
	longWindow  = 10 * time.Minute
)

// prefsOf reads a person's wishes: the address first, then the cookie, then
// what the machine's owner set. A wish that makes no sense is no wish.
func (s *server) prefsOf(r *http.Request) prefs {
	p := prefs{Units: s.opt.Units, Window: shortWindow}
	if c, err := r.Cookie(unitsCookie); err == nil {
		if u, ok := parseSystem(c.Value); ok {
			p.Units = u
		}
	}
	q := r.URL.Query()
	if u, ok := parseSystem(q.Get("units")); ok {
		p.Units = u
		p.unitsQuery = "units=" + u.String()
	}
	if q.Get("window") == "10" {
		p.Window = longWindow
	}
	return p
}

func parseSystem(s string) (units.System, bool) {
	switch strings.ToUpper(s) {
	case "US":
		return units.US, true
	case "SI":
		return units.SI, true
	}
	return units.SI, false
}

// chooseUnits stores the choice and shows the page anew. The cookie holds no
// secret and nobody but the page reads it.
func (s *server) chooseUnits(w http.ResponseWriter, r *http.Request) {
	u, ok := parseSystem(r.FormValue("units"))
	if !ok {
		http.Error(w, "units must be SI or US", http.StatusBadRequest)
		return
	}
	http.SetCookie(w, &http.Cookie{
		Name: unitsCookie, Value: u.String(), Path: "/", MaxAge: 5 * 365 * 24 * 3600,
		HttpOnly: true, SameSite: http.SameSiteStrictMode,
	})
	to := ownPath(r.FormValue("next"))
	if to == "/" && r.FormValue("window") == "10" {
		to = "/?window=10"
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}
