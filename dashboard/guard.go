package dashboard

import (
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"strings"
)

// policy allows only what this server itself serves. There is no inline style
// and no inline script on any page, so none is allowed.
const policy = "default-src 'self'; base-uri 'none'; object-src 'none'; form-action 'self'; frame-ancestors 'none'"

// maxBody is more than the largest form needs, which is a whole checklist.
const maxBody = 64 << 10

// guard puts the headers on every answer and turns away names that are not
// ours. A page on the internet can point its own name at this board's address
// (DNS rebinding) and then read it as its own: only the Host header shows that.
func (s *server) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if !s.ours(r.Host) {
			http.Error(w, "this machine is not known by that name: use its IP address, its .local name, or add the name to the allowed hosts", http.StatusMisdirectedRequest)
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, maxBody)
		next.ServeHTTP(w, r)
	})
}

// readable refuses a form that is too long or damaged, before anybody takes its
// fields: FormValue gives them as empty, and an empty note or library would be
// judged in place of the one that was sent.
func (s *server) readable(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost {
			if err := r.ParseForm(); err != nil {
				s.refuseRun(w, r, http.StatusBadRequest, unreadableForm(err))
				return
			}
		}
		next.ServeHTTP(w, r)
	})
}

// unreadableForm says what is wrong with a form, and the mend where there is one.
func unreadableForm(err error) string {
	var long *http.MaxBytesError
	if errors.As(err, &long) {
		return fmt.Sprintf("Cannot read the form: it is longer than %d KiB. Nothing was changed; write less.", long.Limit>>10)
	}
	return "Cannot read the form: " + err.Error() + ". Nothing was changed."
}

// ours reports whether a Host header names this machine.
func (s *server) ours(host string) bool {
	name := host
	if h, _, err := net.SplitHostPort(host); err == nil {
		name = h
	}
	name = strings.ToLower(strings.TrimSuffix(strings.Trim(name, "[]"), "."))
	if _, err := netip.ParseAddr(name); err == nil {
		return true
	}
	return name == "localhost" || strings.HasSuffix(name, ".local") && name != ".local" || s.hosts[name]
}

func hostSet(names []string) map[string]bool {
	set := make(map[string]bool, len(names))
	for _, n := range names {
		set[strings.ToLower(strings.TrimSuffix(n, "."))] = true
	}
	return set
}
