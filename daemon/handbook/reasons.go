package handbook

import (
	"strings"
	"time"

	"headroom/daemon/config"
	"headroom/rules/engine"
	"headroom/rules/units"
)

// reasons are the config's own reasons for its defaults, by section and key.
type reasons struct {
	docs map[string]string
	keys map[string]config.Key
}

func newReasons() reasons {
	r := reasons{docs: map[string]string{}, keys: map[string]config.Key{}}
	for _, s := range config.Schema() {
		r.docs[s.Name] = s.Doc
		for _, k := range s.Keys {
			r.keys[s.Name+"."+k.Name] = k
			if strings.HasPrefix(k.Name, "sensor_") {
				r.keys[k.Name] = k
			}
		}
	}
	return r
}

func (rs reasons) doc(r engine.RuleID) string { return rs.docs["rules."+r.String()] }

func (rs reasons) latch(r engine.RuleID) string { return rs.keys["rules."+r.String()+".latch"].Why }

// delayKeys in the order of the config, where a reason may point back to the
// one before it.
var delayKeys = [...]string{"warn_delay", "act_delay", "off_delay"}

const sameReason, noStage = "for the same reason", "no such stage"

// of gives the reason of one of a rule's delays.
func (rs reasons) of(r engine.RuleID, key string, d time.Duration) string {
	k := rs.keys["rules."+r.String()+"."+key]
	k.Why = rs.spelled(r, key)
	return reason(k, d)
}

// spelled writes out a reason that points back to another: on this page the
// two don't stand together.
func (rs reasons) spelled(r engine.RuleID, key string) string {
	before := ""
	for _, name := range delayKeys {
		why := rs.keys["rules."+r.String()+"."+name].Why
		if before != "" {
			why = strings.Replace(why, sameReason, before, 1)
		}
		if name == key {
			return why
		}
		if why != "" && why != noStage && !strings.HasPrefix(why, noStage+":") {
			before = why
		}
	}
	return ""
}

func (rs reasons) sensor(key string, d time.Duration) string { return reason(rs.keys[key], d) }

// reason gives a default's reason only while the default holds: it speaks for
// no other time.
func reason(k config.Key, d time.Duration) string {
	def := strings.Trim(k.Default, `"`)
	s, err := units.Parse(units.Duration, def)
	if err != nil || s == d.Seconds() {
		return k.Why
	}
	return "set in this configuration; the default is " + def + ": " + k.Why
}
