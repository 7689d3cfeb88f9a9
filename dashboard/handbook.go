package dashboard

import "net/http"

// Handbook is the alarm handbook in words, ready to be printed: what every
// alarm means, when it comes, and what to do. Values stand in both systems of
// units. Whoever has the configuration makes it; the page only shows it.
type Handbook struct {
	// Machine is the configuration's name for the machine.
	Machine string
	// Phases and Levels explain what the pages show of any alarm.
	Phases, Levels []HandbookTerm
	Entries        []HandbookEntry
	Sensors        HandbookSensors
}

// HandbookTerm is a word that the pages use, and what it means.
type HandbookTerm struct{ Word, Meaning string }

// HandbookEntry is one rule with its alarms. Every text may be shown as it is.
type HandbookEntry struct {
	// Rule is its name in the config, Label its name for people, Judges what
	// it looks at.
	Rule, Label, Judges string
	// Off says why the rule raises nothing in this configuration; empty when
	// it does.
	Off                string
	Cause, Consequence string
	Stages             []HandbookStage
	// GoesBack says how far and how long inside the limit the value must be,
	// and GoesBackWhy why that long.
	GoesBack, GoesBackWhy string
	// Applies are the states of the machine in which it judges, Suppressed
	// those in which it does not.
	Applies, Suppressed string
	// Under are the rules whose alarms it may stand under, Over those that may
	// stand under its own; names for people.
	Under, Over []string
	// Source of the limits.
	Source string
}

// HandbookStage is one alarm of a rule.
type HandbookStage struct {
	Alarm, Title, Level string
	// Limit and Delay say when it comes, DelayWhy why not sooner.
	Limit, Delay, DelayWhy string
	// Latch says whether it stays until a person resets it.
	Latch    string
	Response string
}

// HandbookSensors is what holds for the alarms of all sensors, and their list.
type HandbookSensors struct {
	Cause, Consequence, Response           string
	Delay, DelayWhy, GoesBack, GoesBackWhy string
	Rows                                   []HandbookStage
	// OnlyShown are the channels whose values no rule judges.
	OnlyShown []string
}

type handbookView struct {
	chrome
	*Handbook
	// Manuals are the other pages of the handbook.
	Manuals []navLink
}

func (s *server) handbookPage(w http.ResponseWriter, r *http.Request) {
	v := &handbookView{chrome: s.chrome(r, "Handbook", placeHandbook), Handbook: s.opt.Handbook}
	for _, name := range []string{"wiring", "physics"} {
		if m, ok := s.manuals()[name]; ok {
			v.Manuals = append(v.Manuals, navLink{Href: placeHandbook + "/" + name, Label: m.title})
		}
	}
	v.Manuals = append(v.Manuals, navLink{Href: "/cautions", Label: "Cautions"}, navLink{Href: "/limits", Label: "Limits and their sources"})
	s.write(w, r, "handbook.html", v)
}
