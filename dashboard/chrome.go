package dashboard

import (
	"net/http"
	"strconv"
)

// chrome is what every page has around its own matter: whose machine it is, the
// way to the other pages, and what a person must know before changing anything.
type chrome struct {
	// Title of the page; MachineName, Version and Source as in Options.
	Title, MachineName, Version, Source string
	// Loaded is when the page was made, for paper; or that the clock isn't set.
	Loaded string
	// Band says across the whole page that what it shows was simulated, played
	// back or imported, also where the readings of now are real; else empty.
	Band string
	// Nav leads to the other pages. Here is this page's own address.
	Nav  []navLink
	Here string
	// Script is the page's module; empty for a page without one.
	Script string
	// Standing is the line about alarms; nil where none stands.
	Standing *standingView
	// Units is what this person reads, CanUnits whether the page has any.
	Units    string
	CanUnits bool
	// AskPIN says that a change needs the PIN, which this browser didn't give.
	AskPIN bool
	// Said is what was just done, Trouble why it wasn't or not wholly.
	Said, Trouble string
	// ageS is the age of the readings in seconds where they are too old to be
	// called now, else 0.
	ageS float64
}

// Renews reports whether the page shows readings of now, which its script keeps
// up to date.
func (c chrome) Renews() bool {
	return c.Script == "renew.js" || c.Script == "hold.js" || c.Script == "bench.js"
}

// Old is how many seconds old the readings are, empty where they may be called
// now.
func (c chrome) Old() string {
	if c.ageS == 0 {
		return ""
	}
	return strconv.FormatFloat(c.ageS, 'f', 0, 64)
}

// navLink is one way to another page.
type navLink struct {
	Href, Label string
	Current     bool
}

// chrome makes the frame of a page below the place of the navigation that it
// belongs to.
func (s *server) chrome(r *http.Request, title, place string) chrome {
	c := chrome{
		Title: title, MachineName: s.opt.MachineName, Version: s.opt.Version, Source: s.opt.Source, Loaded: began(s.opt.Now()),
		Nav: s.nav(place), Here: ownPath(r.URL.RequestURI()), Units: s.prefsOf(r).Units.String(),
		Standing: s.standing(r),
		AskPIN:   s.opt.Gate != nil && !s.opt.Gate.Knows(tokenOf(r)),
	}
	if snap := s.feed.Latest(); snap != nil && s.age(snap) > oldAfter {
		c.ageS = s.age(snap).Seconds()
	}
	return c
}

// The places of the navigation.
const (
	placeLive     = "/"
	placeStart    = "/start"
	placeSetup    = "/setup"
	placeHandbook = "/handbook"
)

// nav is the way to every page, in the order of a day's work: the places that
// this program serves. A new place is one line here and its route.
func (s *server) nav(here string) []navLink {
	places := []struct {
		href, label string
		served      bool
	}{
		{placeLive, "Live", true},
		{placeStart, "Before the start", true},
		{placeRuns, "Runs", s.opt.Record != nil},
		{placeBench, "Bench", s.opt.Bench != nil},
		{placeSetup, "Setup", true},
		{placeHandbook, "Handbook", true},
	}
	var out []navLink
	for _, p := range places {
		if p.served {
			out = append(out, navLink{p.href, p.label, p.href == here})
		}
	}
	return out
}
