package dashboard

import (
	"errors"
	"net/http"
	"net/netip"
	"net/url"
	"strconv"
	"strings"
	"time"

	"headroom/daemon/access"
)

// sessionCookie holds the token of who gave the PIN.
const sessionCookie = "headroom_session"

// accessPath is where the PIN is given.
const accessPath = "/access"

// harmless are the changes that need no PIN: they change this browser's own
// cookies, or are the way to give the PIN.
var harmless = map[string]bool{
	"POST /": true, "POST /who": true,
	"POST /access/enter": true, "POST /access/leave": true, "POST /api/v1/session": true,
}

// alwaysRead can be read without the PIN even where reading needs it: what the
// PIN's own page is made of, and whether the program is alive.
func alwaysRead(path string) bool {
	return path == accessPath || path == "/-/healthy" || strings.HasPrefix(path, "/static/")
}

// gated lets a request through that changes nothing, unless reading needs the
// PIN too, and of the others only those of a session.
func (s *server) gated(next http.Handler) http.Handler {
	if s.opt.Gate == nil {
		return next
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		reads := r.Method == http.MethodGet || r.Method == http.MethodHead || r.Method == http.MethodOptions
		free := harmless[r.Method+" "+r.URL.Path]
		if reads {
			free = !s.opt.ReadNeedsPIN || alwaysRead(r.URL.Path)
		}
		if free || s.opt.Gate.Knows(tokenOf(r)) {
			next.ServeHTTP(w, r)
			return
		}
		s.askPIN(w, r)
	})
}

// tokenOf is the session of a browser, or of a program.
func tokenOf(r *http.Request) string {
	if t, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer "); ok {
		return strings.TrimSpace(t)
	}
	if c, err := r.Cookie(sessionCookie); err == nil {
		return c.Value
	}
	return ""
}

// askPIN answers who has no session, a program in JSON and a person with the
// page where the PIN is given. Nothing was done, and it says so.
func (s *server) askPIN(w http.ResponseWriter, r *http.Request) {
	text := "This needs the PIN of this device. Nothing was changed."
	if !s.opt.Gate.HasPIN() {
		text = asSentence(access.ErrNoPIN) + " Nothing was changed."
	}
	if wantsJSON(r) {
		w.Header().Set("WWW-Authenticate", `Bearer realm="headroom"`)
		s.writeJSON(w, http.StatusUnauthorized, object{"error": text, "enter": accessPath})
		return
	}
	next := r.URL.RequestURI()
	if r.Method != http.MethodGet {
		next = refererPath(r)
	}
	v := s.accessView(r, next)
	v.Why, v.Again = text, r.Method != http.MethodGet && len(v.Acks) == 0
	s.writeCode(w, r, http.StatusUnauthorized, "access.html", v)
}

func wantsJSON(r *http.Request) bool {
	return strings.HasPrefix(r.URL.Path, "/api/") || strings.Contains(r.Header.Get("Accept"), "application/json")
}

// refererPath is the page of ours that a form was sent from.
func refererPath(r *http.Request) string {
	u, err := url.Parse(r.Referer())
	if err != nil || u.Host != r.Host {
		return "/"
	}
	return ownPath(u.RequestURI())
}

// ownPath takes an address only where it stays on this machine.
func ownPath(next string) string {
	u, err := url.Parse(next)
	if err != nil || u.IsAbs() || u.Host != "" || !strings.HasPrefix(next, "/") ||
		strings.HasPrefix(next, "//") || strings.ContainsAny(next, "\\\r\n") || u.Path == accessPath {
		return "/"
	}
	return next
}

// accessView is the page where the PIN is given.
type accessView struct {
	chrome
	// Why the page is shown instead of another, empty when it was asked for.
	Why string
	// Next is where to go with a session.
	Next string
	// Again is true where something was pressed that needs the PIN: with the
	// PIN it still isn't done, and the page must say so.
	Again bool
	// Acks is what the PIN acknowledges besides.
	Acks []pendingAck
	// Who is the name that this browser remembers.
	Who string
	// In is true with a session, HasPIN once one was drawn, Plain over a
	// connection that isn't encrypted.
	In, HasPIN, Plain bool
	// Digits of a PIN, and for how many days a session lasts unused.
	Digits, Days int
	// Command draws a PIN.
	Command string
}

func (s *server) accessView(r *http.Request, next string) *accessView {
	return &accessView{
		chrome: s.chrome(r, "Access", placeSetup), Next: next, Command: s.opt.PINCommand,
		Again: r.FormValue("again") != "", Acks: acksOf(r), Who: cookieName(r),
		In: s.opt.Gate.Knows(tokenOf(r)), HasPIN: s.opt.Gate.HasPIN(), Plain: r.TLS == nil,
		Digits: access.Digits, Days: int(access.SessionAge / (24 * time.Hour)),
	}
}

func (s *server) accessPage(w http.ResponseWriter, r *http.Request) {
	s.write(w, r, "access.html", s.accessView(r, ownPath(r.FormValue("next"))))
}

// enterPIN begins a session in this browser.
func (s *server) enterPIN(w http.ResponseWriter, r *http.Request) {
	token, code, text := s.enter(r)
	if token == "" {
		v := s.accessView(r, ownPath(r.FormValue("next")))
		v.Why = text
		s.writeCode(w, r, code, "access.html", v)
		return
	}
	http.SetCookie(w, &http.Cookie{
		Name: sessionCookie, Value: token, Path: "/", MaxAge: int(access.SessionAge / time.Second),
		HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: r.TLS != nil,
	})
	if n := cleanName(r.PostFormValue("who")); n != "" {
		http.SetCookie(w, nameCookie(n))
	}
	if acks := acksOf(r); len(acks) > 0 {
		if no := s.acknowledgePending(r, acks); no != nil {
			s.refusePage(w, r, no.code, no.text)
			return
		}
	}
	if next := ownPath(r.FormValue("next")); r.PostFormValue("again") == "" {
		http.Redirect(w, r, next, http.StatusSeeOther)
	} else {
		http.Redirect(w, r, accessPath+"?again=1&next="+url.QueryEscape(next), http.StatusSeeOther)
	}
}

// enterJSON begins a session for a program, which sends the token from then on
// as a bearer.
func (s *server) enterJSON(w http.ResponseWriter, r *http.Request) {
	token, code, text := s.enter(r)
	if token == "" {
		s.writeJSON(w, code, object{"error": text})
		return
	}
	s.writeJSON(w, http.StatusOK, object{"version": 1, "token": token})
}

// enter takes the PIN of a request; without a token, code and text say why.
func (s *server) enter(r *http.Request) (token string, code int, text string) {
	token, err := s.opt.Gate.Enter(r.Context(), addressOf(r), r.PostFormValue("pin"))
	var wait *access.WaitError
	switch {
	case err == nil:
		s.log.Info("the PIN was given", "from", addressOf(r))
		return token, http.StatusOK, ""
	case errors.Is(err, access.ErrWrong):
		s.log.Warn("a wrong PIN was given", "from", addressOf(r))
		return "", http.StatusUnauthorized, asSentence(err)
	case errors.As(err, &wait):
		return "", http.StatusTooManyRequests, asSentence(err)
	}
	s.log.Error("cannot take a PIN", "err", err)
	return "", http.StatusServiceUnavailable, asSentence(err)
}

// asSentence is an error as a person reads it.
func asSentence(err error) string {
	return sentence(strings.TrimSuffix(err.Error(), ".")) + "."
}

// addressOf is who is asking. What a proxy says of it isn't believed: anybody
// can write that.
func addressOf(r *http.Request) netip.Addr {
	if at, err := netip.ParseAddrPort(r.RemoteAddr); err == nil {
		return at.Addr()
	}
	return netip.Addr{}
}

// leavePIN ends this browser's session, or with all=1 every session.
func (s *server) leavePIN(w http.ResponseWriter, r *http.Request) {
	token, err := tokenOf(r), error(nil)
	switch all, _ := strconv.ParseBool(r.PostFormValue("all")); {
	case all && !s.opt.Gate.Knows(token):
		s.askPIN(w, r)
		return
	case all:
		err = s.opt.Gate.LeaveAll()
	default:
		err = s.opt.Gate.Leave(token)
	}
	if err != nil {
		s.log.Error("cannot keep that a session ended", "err", err)
	}
	http.SetCookie(w, &http.Cookie{Name: sessionCookie, Path: "/", MaxAge: -1, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, accessPath, http.StatusSeeOther)
}
