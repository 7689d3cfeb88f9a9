package dashboard

import (
	"net/http"
	"strings"

	"headroom/rules/cavitation"
	"headroom/rules/engine"
	"headroom/rules/units"
	"headroom/rules/words"
)

// limitsView is the page that tells where each limit comes from and what each
// verdict was made of.
type limitsView struct {
	chrome
	Clock string
	Rules []ruleView
}

type ruleView struct {
	Name, Judge string
	// Act and Warn are the two stages in words, Ample the headroom that is
	// drawn as a full bar; empty where not set.
	Act, Warn, Ample, Clears, Source string
	// Used is what the rule used last, Signs what it weighed.
	Used, Signs []string
}

func (s *server) limitsPage(w http.ResponseWriter, r *http.Request) {
	sys := s.prefsOf(r).Units
	v := &limitsView{chrome: s.chrome(r, "Limits in force", placeSetup)}
	v.CanUnits = true
	snap := s.feed.Latest()
	if snap != nil {
		v.Clock = clock(snap.Wall)
	}
	for r := range engine.NumRules {
		row := ruleView{Name: words.Rule(r), Judge: "no reading yet"}
		if snap != nil {
			vd := &snap.Verdicts.Rules[r]
			row.Judge, row.Used = vd.Why(), usedWords(vd, sys)
			if r == engine.Cavitation && vd.Judge == engine.Watching {
				row.Signs = signWords(&snap.Verdicts.Evidence)
			}
		}
		if s.opt.Limits != nil && s.opt.Limits[r].On {
			row.limit(r, &s.opt.Limits[r], sys)
		}
		v.Rules = append(v.Rules, row)
	}
	s.write(w, r, "limits.html", v)
}

func (row *ruleView) limit(r engine.RuleID, l *engine.Limit, sys units.System) {
	spec := r.Spec()
	side := " or below"
	if spec.HighIsBad {
		side = " or above"
	}
	if l.HasAct {
		row.Act = l.ActLevel.Words() + " at " + amount(r, sys, l.Act) + side + afterDelay(l.ActOn.Seconds())
	}
	if l.HasWarn {
		row.Warn = l.WarnLevel.Words() + " at " + amount(r, sys, l.Warn) + side + afterDelay(l.WarnOn.Seconds())
	}
	row.Clears = "goes back " + show(spec.Difference, sys, l.Deadband) + " inside" + afterDelay(l.Off.Seconds())
	row.Ample = show(spec.Difference, sys, l.Span)
	row.Source = l.Source
	if row.Source == "" {
		row.Source = "not given"
	}
}

func afterDelay(s float64) string {
	if s <= 0 {
		return ""
	}
	return ", after " + show(units.Duration, units.SI, s)
}

func usedWords(v *engine.Verdict, sys units.System) []string {
	var out []string
	for _, u := range v.Used() {
		out = append(out, usedWord(u, sys))
	}
	return out
}

func usedWord(u engine.Used, sys units.System) string {
	value := show(u.Term.Quantity(), sys, u.Value)
	text := strings.TrimSpace(u.Term.Label() + " " + value)
	if u.Term == engine.TermTempHeadroom {
		text = "the water may warm by " + value + " until the margin is gone"
	}
	if u.Assumed {
		text += " (assumed)"
	}
	return text
}

// signWords lists the signs of cavitation, those that speak first.
func signWords(e *engine.Evidence) []string {
	var out []string
	for _, state := range []cavitation.State{cavitation.Speaks, cavitation.Silent, cavitation.Undecided, cavitation.NoReading, cavitation.NotFitted} {
		for i := range e {
			if e[i].State == state {
				out = append(out, cavitation.Item(i).String()+": "+state.String())
			}
		}
	}
	return out
}
