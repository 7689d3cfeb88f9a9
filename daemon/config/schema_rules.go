package config

import (
	"strconv"

	"headroom/rules/engine"
	"headroom/rules/units"
)

const ruleGroup = `Rules: what is judged, one section each. Write only what differs.
  on           the rule is on.
  warn, act    limits of the two stages: "there is time left" and "act now".
  span         distance from the outermost limit that counts as ample headroom.
  deadband     how far inside the limit the value must come back before the alarm may clear.
  warn_delay   how long the value must be beyond warn, act_delay beyond act; the reason stands beside it: how fast the damage is.
  off_delay    how long it must be back inside.
  latch        the alarm of act stays until a person resets it.
  source       where the limits come from; write your own when you change them.
Where a section says so, a limit may be a share: "80 %".`

func ruleSchema() []Section {
	out := make([]Section, 0, engine.NumRules)
	for r := range engine.NumRules {
		out = append(out, ruleSection(r))
	}
	out[0].Group = ruleGroup
	return out
}

func ruleSection(r engine.RuleID) Section {
	d := &ruleDefaults[r]
	keys := append([]Key{onKey(r, d)}, limitKeys(r, d)...)
	keys = append(keys, delayKeys(r, d)...)
	return Section{Name: "rules." + r.String(), Terse: true, Doc: d.doc, Keys: append(keys,
		Key{Name: "latch", Kind: Flag, Default: strconv.FormatBool(d.latch), Why: d.latchWhy, Doc: "The alarm of act stays until a person resets it.",
			field: func(c *Config, _ int) any { return &c.Engine.Rules[r].Latch }},
		Key{Name: "source", Kind: Text, Default: quoted(d.source, "none given"), Doc: "Where the limits come from.",
			field: func(c *Config, _ int) any { return &c.Engine.Rules[r].Source }})}
}

func onKey(r engine.RuleID, d *ruleDefault) Key {
	k := Key{Name: "on", Kind: Flag, Default: strconv.FormatBool(d.on), Bare: true, Doc: "The rule is on.",
		field: func(c *Config, _ int) any { return &c.Engine.Rules[r].On }}
	if d.auto {
		k.Default, k.Example = "", "true"
	}
	return k
}

// limitKeys are written in the rule's quantity, its distances in the
// difference of that quantity.
func limitKeys(r engine.RuleID, d *ruleDefault) []Key {
	spec := r.Spec()
	limit := func(name, text, doc string, field func(l *engine.Limit) *float64) Key {
		k := Key{Name: name, Kind: measureOr(spec.Quantity), Quantity: spec.Quantity, Min: d.lo, Max: d.hi, ShareOf: d.shareOf,
			Default: literal(spec.Quantity, text), Example: limitExample(d, spec.Quantity), Doc: doc}
		k.field = func(c *Config, _ int) any { return field(&c.Engine.Rules[r]) }
		return k
	}
	distance := func(name, text, doc string, field func(l *engine.Limit) *float64) Key {
		k := limit(name, text, doc, field)
		k.Kind, k.Quantity = measureOr(spec.Difference), spec.Difference
		k.Default, k.Example = literal(spec.Difference, text), exampleOf(spec.Difference)
		k.Min, k.Max = 0, max(d.hi-d.lo, 0)
		return k
	}
	warn := limit("warn", d.warn, "First limit.", func(l *engine.Limit) *float64 { return &l.Warn })
	if d.warnHi > 0 {
		warn.Max = d.warnHi
	}
	span := distance("span", d.span, "Distance that counts as ample.", func(l *engine.Limit) *float64 { return &l.Span })
	span.Above = true
	return []Key{
		warn,
		limit("act", d.act, "Second limit.", func(l *engine.Limit) *float64 { return &l.Act }),
		span,
		distance("deadband", d.deadband, "How far the value must come back.", func(l *engine.Limit) *float64 { return &l.Deadband }),
	}
}

func delayKeys(r engine.RuleID, d *ruleDefault) []Key {
	key := func(name, doc string, t delay, field func(l *engine.Limit) any) Key {
		return Key{Name: name, Kind: Measure, Quantity: units.Duration, Max: 3600, Default: quoted(t.time, "0 s"), Why: t.why, Doc: doc,
			field: func(c *Config, _ int) any { return field(&c.Engine.Rules[r]) }}
	}
	return []Key{
		key("warn_delay", "How long beyond warn.", d.warnDelay, func(l *engine.Limit) any { return &l.WarnOn }),
		key("act_delay", "How long beyond act.", d.actDelay, func(l *engine.Limit) any { return &l.ActOn }),
		key("off_delay", "How long back inside.", d.offTime, func(l *engine.Limit) any { return &l.Off }),
	}
}

// measureOr returns how a quantity is written: one without a unit is a bare
// number.
func measureOr(q units.Quantity) Kind {
	if q == units.None || q == units.Switch {
		return Number
	}
	return Measure
}

// literal writes a default as TOML: bare where the quantity has no unit.
func literal(q units.Quantity, text string) string {
	if text == "" || measureOr(q) == Number {
		return text
	}
	return strconv.Quote(text)
}

// limitExample is shown for a stage that the default leaves out.
func limitExample(d *ruleDefault, q units.Quantity) string {
	for _, text := range []string{d.warn, d.act} {
		if text != "" {
			return literal(q, text)
		}
	}
	return exampleOf(q)
}

func exampleOf(q units.Quantity) string {
	if s := units.Symbols(q); len(s) > 0 && measureOr(q) == Measure {
		return strconv.Quote("1 " + s[0])
	}
	return "1"
}
