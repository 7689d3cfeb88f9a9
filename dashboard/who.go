package dashboard

import (
	"net/http"
	"net/url"
	"strings"

	"headroom/daemon/store"
)

const (
	// whoCookie remembers a person's name in this browser only.
	whoCookie = "headroom_who"
	// nobody is who acts while no name was given.
	nobody = "dashboard"
	// maxWho is the longest name, in characters.
	maxWho = 40
)

// whoOf returns the name that stands beside an act: what the request says, then
// what this browser remembers.
func (s *server) whoOf(r *http.Request) string {
	if n := cleanName(r.FormValue("who")); n != "" {
		return n
	}
	if n := cookieName(r); n != "" {
		return n
	}
	return nobody
}

func cookieName(r *http.Request) string {
	c, err := r.Cookie(whoCookie)
	if err != nil {
		return ""
	}
	n, err := url.QueryUnescape(c.Value)
	if err != nil {
		return ""
	}
	return cleanName(n)
}

// cleanName makes a name one short line of visible characters.
func cleanName(n string) string {
	runes := []rune(strings.Join(strings.Fields(store.Plain(n)), " "))
	return strings.TrimSpace(string(runes[:min(len(runes), maxWho)]))
}

// chooseName remembers a name, or forgets it when it is empty.
func (s *server) chooseName(w http.ResponseWriter, r *http.Request) {
	http.SetCookie(w, nameCookie(cleanName(r.FormValue("who"))))
	http.Redirect(w, r, ownPath(r.FormValue("next")), http.StatusSeeOther)
}

// nameCookie remembers a name, or forgets it when it is empty.
func nameCookie(name string) *http.Cookie {
	c := &http.Cookie{
		Name: whoCookie, Value: url.QueryEscape(name), Path: "/", MaxAge: 5 * 365 * 24 * 3600,
		HttpOnly: true, SameSite: http.SameSiteStrictMode,
	}
	if name == "" {
		c.MaxAge = -1
	}
	return c
}
