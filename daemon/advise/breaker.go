package advise

import (
	"flag"
	"fmt"
	"strings"

	"headroom/daemon/config"
	"headroom/rules/circuit"
	"headroom/rules/circuit/breaker"
	"headroom/rules/units"
)

type breakerFlags struct{ current, carried, before, rating, standard string }

func bindBreaker(fs *flag.FlagSet) answer {
	f := &breakerFlags{}
	fs.StringVar(&f.current, "current", "", "`current` in the circuit")
	fs.StringVar(&f.carried, "carried", "0 s", "how much `time` it has been carried already")
	fs.StringVar(&f.before, "before", "", "`current` that was carried for a long time before that, \"0 A\" for a cold breaker;\nwithout it not known")
	fs.StringVar(&f.rating, "rating", "", "the breaker's rated `current`; without it the config's")
	fs.StringVar(&f.standard, "standard", "", "ul489 or `iec60898-b`, -c or -d; without it the config's")
	return f.answer
}

// model is the breaker of the flags over that of the config.
func (f *breakerFlags) model(c *config.Config) (m breaker.Model, cfg breaker.Config, err error) {
	cfg = c.Engine.Plant.Breaker
	switch strings.ToLower(f.standard) {
	case "":
	case "ul489":
		cfg.Standard = breaker.UL489
	case "iec60898-b":
		cfg.Standard = breaker.IEC60898B
	case "iec60898-c":
		cfg.Standard = breaker.IEC60898C
	case "iec60898-d":
		cfg.Standard = breaker.IEC60898D
	default:
		return m, cfg, fmt.Errorf("-standard: %q is unknown; write ul489, iec60898-b, iec60898-c or iec60898-d", f.standard)
	}
	if cfg.Standard == breaker.StandardUnknown {
		return m, cfg, fmt.Errorf("-standard is missing and the config has no breaker; write for example -standard ul489")
	}
	if cfg.RatingA, err = positive("rating", units.Current, f.rating, cfg.RatingA); err != nil {
		return m, cfg, err
	}
	if m, err = breaker.New(cfg); err != nil {
		return m, cfg, fmt.Errorf("-rating: %w", err)
	}
	return m, cfg, nil
}

// memory is the breaker's state before the current.
func (f *breakerFlags) memory(m breaker.Model) (breaker.State, error) {
	if f.before == "" {
		return m.StateUnknown(), nil
	}
	a, err := quantity("before", units.Current, f.before, 0)
	if err != nil {
		return breaker.State{}, err
	}
	s, ok := m.StateAfter(a)
	if !ok {
		return breaker.State{}, fmt.Errorf("-before: %q is out of range; write a current from 0 A", f.before)
	}
	return s, nil
}

func (f *breakerFlags) answer(c *config.Config, sys units.System) (Advice, error) {
	m, cfg, err := f.model(c)
	if err != nil {
		return Advice{}, err
	}
	currentA, err := quantity("current", units.Current, f.current, 0)
	if err != nil {
		return Advice{}, err
	}
	carriedS, err := quantity("carried", units.Duration, f.carried, 0)
	if err != nil {
		return Advice{}, err
	}
	s, err := f.memory(m)
	if err != nil {
		return Advice{}, err
	}
	s, ok := m.Step(s, currentA, carriedS)
	w := m.TimeToTrip(s, currentA)
	if !ok || w.Kind == breaker.KindUnknown {
		return Advice{}, fmt.Errorf("-current, -carried: out of range; write a current from 0 A and a time of at most 24 h")
	}
	a := Advice{Topic: "breaker", Verdict: w.Kind.String(), sys: sys}
	a.put("carried", units.Duration, carriedS)
	a.breakerText(f, cfg, m, currentA, carriedS, w)
	return a, nil
}

func (a *Advice) breakerText(f *breakerFlags, cfg breaker.Config, m breaker.Model, currentA, carriedS float64, w breaker.Window) {
	a.Headline = a.window(w)
	share := ""
	if v, ok := circuit.Share(currentA, cfg.RatingA); ok {
		share = fmt.Sprintf(", %s of its rating", a.put("share", units.Fraction, v))
	}
	a.say("A breaker of %s by %s carries %s%s. By its standard it must hold %s.", a.put("rating", units.Current, cfg.RatingA), cfg.Standard,
		a.put("current", units.Current, currentA), share, a.put("hold_current", units.Current, m.HoldA()))
	before := "what it carried before isn't known, so the band is wide"
	if f.before != "" {
		before = "it carried " + f.before + " for a long time before"
	}
	if carriedS > 0 {
		a.say("It has carried this for %s; %s.", a.show(units.Duration, carriedS), before)
	} else {
		a.say("It begins to carry this now; %s.", before)
	}
	if w.VouchedS > 0 {
		a.say("The standard alone promises a trip within %s from its own start, whatever the model says between its points.", a.put("standard_promises", units.Duration, w.VouchedS))
	} else if w.Kind != breaker.NoTrip {
		a.say("The standard alone promises no trip at this current.")
	}
	// The rule of 80 % is that of the NEC, and says nothing of a breaker by IEC.
	if limit, ok := circuit.ContinuousLimitA(cfg.RatingA, false); ok && cfg.Standard == breaker.UL489 && currentA > limit {
		a.note("For three hours or more the circuit may carry %s, 80 %% of its rating (NFPA 70 Article 100 and 210.19(A)(1), from memory).", a.put("continuous_limit", units.Current, limit))
	}
	a.note("The calibration points are those of the standard, read from secondary pages or from memory; between them the answer follows first-order heating. A breaker in a hot panel trips earlier. Ground-fault and arc-fault functions are not in it.")
}

// window says when it trips, in a sentence.
func (a *Advice) window(w breaker.Window) string {
	early, late := "", ""
	if w.Kind != breaker.NoTrip {
		early = a.put("earliest", units.Duration, w.EarliestS)
	}
	switch w.Kind {
	case breaker.TripsBetween, breaker.TripsWithin, breaker.TripsAtOnce:
		late = a.put("latest", units.Duration, w.LatestS)
	}
	switch {
	case w.Kind == breaker.MayTripLater && w.EarliestS < 1:
		return nowOrNever
	case w.Kind == breaker.TripsBetween && w.EarliestS < 1:
		return nowAndWithin(late)
	}
	switch w.Kind {
	case breaker.NoTrip:
		return "It doesn't trip at this current."
	case breaker.MayTripLater:
		return "It may trip after " + early + ", or never: the standard allows both."
	case breaker.TripsBetween:
		return "It trips between " + early + " and " + late + " from now."
	case breaker.MayTripNow:
		return nowOrNever
	case breaker.TripsWithin:
		return nowAndWithin(late)
	case breaker.TripsAtOnce:
		return "It trips at once, within " + late + "."
	}
	return "It should have tripped already: the breaker, its rating or the current is not what it is said to be."
}

const nowOrNever = "It may trip at any time from now, or never: the standard allows both."

func nowAndWithin(late string) string {
	return "It may trip at any time from now, and trips within " + late + "."
}
