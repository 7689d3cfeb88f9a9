package dashboard

import (
	"fmt"
	"math"
	"strings"

	"headroom/rules/engine"
	"headroom/rules/trend"
	"headroom/rules/units"
)

// aboutCurrent reports whether a rule's alarm is eased by less pressure: less
// pressure is less current.
func aboutCurrent(r engine.RuleID) bool {
	return r == engine.CircuitLoad || r == engine.BreakerTime || r == engine.MotorHeat
}

// turnPhrase is how the words ask for less pressure; the figure goes in there.
const turnPhrase = "urn the unloader down"

// withTurnDown says in an alarm's action how far to turn the unloader down,
// where that could be computed.
func withTurnDown(r engine.RuleID, action string, vd *engine.Verdicts) string {
	cutPa, ok := term(&vd.Rules[engine.CircuitLoad], engine.TermTurnDown)
	if !aboutCurrent(r) || !ok || cutPa <= 0 {
		return action
	}
	by := " by " + gaugeStep(cutPa)
	for _, phrase := range []string{turnPhrase + " a little", turnPhrase} {
		if before, rest, found := strings.Cut(action, phrase); found {
			return before + turnPhrase + by + rest
		}
	}
	return strings.TrimSpace("Turn the unloader down" + by + ". " + action)
}

// gaugeStep writes a change of pressure in both units, as gauges on machines
// carry either, and no finer than a gauge can be read.
func gaugeStep(pa float64) string {
	const psiStep = 10.0
	psi := math.Max(math.Round(units.For(units.Pressure, units.US).FromSI(pa)/psiStep), 1) * psiStep
	mpa := math.Max(math.Round(pa/1e5), 1) / 10
	return fmt.Sprintf("%.1f MPa (%.0f psi)", mpa, psi)
}

// tripWords says when the breaker trips.
func tripWords(r engine.RuleID, vd *engine.Verdicts) string {
	v := &vd.Rules[engine.BreakerTime]
	latest, ok := term(v, engine.TermLatestTrip)
	if !aboutCurrent(r) || !ok || bad(v.EarliestS) || bad(latest) {
		return ""
	}
	lo, hi := roughly(v.EarliestS), roughly(latest)
	switch {
	case latest <= 1:
		return "The breaker may trip at any moment."
	case latest >= trend.Horizon:
		return "At this load the breaker trips in " + lo + " at the earliest."
	case lo == hi:
		return "At this load the breaker trips in about " + lo + "."
	}
	return "At this load the breaker trips between " + lo + " and " + hi + " from now."
}

// term returns a quantity that a rule used.
func term(v *engine.Verdict, t engine.Term) (value float64, ok bool) {
	if v.Judge != engine.Watching {
		return 0, false
	}
	for _, u := range v.Used() {
		if u.Term == t {
			return u.Value, !bad(u.Value)
		}
	}
	return 0, false
}
