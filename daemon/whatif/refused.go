package whatif

import (
	"errors"
	"math"
	"strconv"
	"strings"

	"headroom/daemon/config"
	"headroom/rules/engine"
	"headroom/rules/units"
)

// changed is the config in force with settings changed. The error names every
// mistake by its setting, since nobody has the file to look up its lines, and
// where a warning and its act must move together it proposes the second one.
func changed(then *config.Config, text []byte, settings []Setting) (*config.Config, error) {
	cfg, mistakes, err := parseChanged(text, settings)
	if err != nil || len(mistakes) == 0 {
		return cfg, err
	}
	var b strings.Builder
	b.WriteString("cannot use these settings with the config in force:")
	for _, p := range mistakes {
		b.WriteString("\n")
		if p.Key != "" {
			b.WriteString(p.Key + ": ")
		}
		b.WriteString(p.Message)
		if p.Mend != "" {
			b.WriteString("; " + p.Mend)
		}
	}
	if also, ok := partners(then, cfg, text, settings); ok {
		b.WriteString("\nMove the other limit along: change " + also + " too")
	}
	return nil, errors.New(b.String())
}

func parseChanged(text []byte, settings []Setting) (*config.Config, []config.Problem, error) {
	text, err := Apply(text, settings)
	if err != nil {
		return nil, nil, err
	}
	cfg, problems := config.Parse("the config in force, changed", text)
	return cfg, config.Mistakes(problems), nil
}

// partners proposes, for each limit that was changed alone, the other limit of
// its rule as far away as it is now; ok only if the settings are then fine.
func partners(then, cfg *config.Config, text []byte, settings []Setting) (also string, ok bool) {
	all := append([]Setting(nil), settings...)
	var names []string
	for i := range settings {
		if p, ok := otherLimit(then, cfg, &settings[i]); ok && !has(settings, p.Name()) {
			all, names = append(all, p), append(names, p.Name()+"="+p.Value)
		}
	}
	if len(names) == 0 {
		return "", false
	}
	_, mistakes, err := parseChanged(text, all)
	return strings.Join(names, " and "), err == nil && len(mistakes) == 0
}

func has(settings []Setting, name string) bool {
	for i := range settings {
		if settings[i].Name() == name {
			return true
		}
	}
	return false
}

// otherLimit is the warning of an act, or the act of a warning, moved as far.
func otherLimit(then, cfg *config.Config, s *Setting) (Setting, bool) {
	name, isRule := strings.CutPrefix(s.Section, "rules.")
	r, known := engine.RuleByName(name)
	if !isRule || !known {
		return Setting{}, false
	}
	was, is, out := &then.Engine.Rules[r], &cfg.Engine.Rules[r], Setting{Section: s.Section}
	var to, moved float64
	switch s.Key {
	case "warn":
		out.Key, to, moved = "act", is.Warn+was.Act-was.Warn, is.Warn
	case "act":
		out.Key, to, moved = "warn", is.Act+was.Warn-was.Act, is.Act
	}
	if out.Key == "" || !was.HasWarn || !was.HasAct {
		return Setting{}, false
	}
	u, ok := unitOf(s.Value, moved)
	if !ok {
		return Setting{}, false
	}
	out.Value = strconv.FormatFloat(math.Round(u.FromSI(to)*1000)/1000, 'f', -1, 64) + u.Symbol
	return out, true
}

// unitOf is the unit that a value was written in, known by the amount that the
// config made of it.
func unitOf(value string, si float64) (units.Unit, bool) {
	value = strings.Trim(value, `"'`)
	for q := units.None; q <= units.Resistance; q++ {
		v, err := units.Parse(q, value)
		if err != nil || !(math.Abs(v-si) <= 1e-9*math.Max(math.Abs(si), 1e-9)) {
			continue
		}
		symbol := strings.TrimLeft(value, "+-.0123456789eE ")
		return units.Lookup(q, symbol)
	}
	return units.Unit{}, false
}
