package casebook_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// mutant is one figure of the config moved by 30 percent away from alarming.
type mutant struct {
	name string
	rule engine.RuleID // NumRules for none
	move func(c *engine.Config)
}

// off is how much a figure is moved.
const off = 0.3

// mutants lists every limit, delay and deadband of every rule that is on, and
// the times of the states and sensors. A figure of 0 can't be moved so.
func mutants(cfg *engine.Config) (out []mutant) {
	for r := range engine.NumRules {
		l := &cfg.Rules[r]
		add := func(what string, from float64, move func(*engine.Limit)) {
			if from != 0 {
				out = append(out, mutant{r.String() + " " + what, r, func(c *engine.Config) { move(&c.Rules[r]) }})
			}
		}
		if l.HasWarn {
			add("warn", l.Warn, func(l *engine.Limit) { l.Warn = away(r, l.Warn) })
			add("warn_delay", float64(l.WarnOn), func(l *engine.Limit) { l.WarnOn = longer(l.WarnOn) })
		}
		if l.HasAct {
			add("act", l.Act, func(l *engine.Limit) { l.Act = away(r, l.Act) })
			add("act_delay", float64(l.ActOn), func(l *engine.Limit) { l.ActOn = longer(l.ActOn) })
		}
		add("off_delay", float64(l.Off), func(l *engine.Limit) { l.Off = longer(l.Off) })
		add("deadband", l.Deadband, func(l *engine.Limit) { l.Deadband *= 1 + off })
	}
	times := []struct {
		name string
		of   func(c *engine.Config) *time.Duration
	}{
		{"start_time", func(c *engine.Config) *time.Duration { return &c.States.StartTime }},
		{"stop_time", func(c *engine.Config) *time.Duration { return &c.States.StopTime }},
		{"bypass_after", func(c *engine.Config) *time.Duration { return &c.States.BypassAfter }},
		{"sensor_delay", func(c *engine.Config) *time.Duration { return &c.SensorOn }},
		{"sensor_clear", func(c *engine.Config) *time.Duration { return &c.SensorOff }},
		{"stuck_after", func(c *engine.Config) *time.Duration { return &c.Signals[frame.MotorCurrent].StuckAfter }},
	}
	for _, x := range times {
		out = append(out, mutant{x.name, engine.NumRules, func(c *engine.Config) { *x.of(c) = longer(*x.of(c)) }})
	}
	return out
}

func longer(d time.Duration) time.Duration { return d + time.Duration(off*float64(d)) }

// away moves a limit away from alarming, a temperature on the scale that
// people read.
func away(r engine.RuleID, limit float64) float64 {
	zero := 0.0
	if r.Spec().Quantity == units.Temperature {
		zero = ice
	}
	if r.Spec().HighIsBad {
		return zero + (limit-zero)*(1+off)
	}
	return zero + (limit-zero)*(1-off)
}

// indifferent are the figures whose 30 percent nothing can tell, each with the
// reason. A mutant that stands here and is found all the same is an error, so
// that the list stays short.
var indifferent = map[string]string{
	"breaker_time deadband": "a load that is let go leaves the breaker an hour at once, so that no value lies near the limit on the way back",
	"cavitation deadband":   "the value is a whole grade",
	"inlet_low deadband":    "1.5 kPa are less than three times the noise of the inlet",
	"npsh_margin deadband":  "0.09 m are less than three times the noise of the inlet",
	"circuit_load deadband": "0.09 A are less than three times the noise of the current",
	"wear deadband":         "0.3 % are less than three times the noise of the flow",
	"no_flow deadband":      "0.6 % of the flow: water that comes back comes back by more",
}

// TestMutants moves each figure alone and demands that a case fails. The cases
// were recorded once; only the engine runs anew.
func TestMutants(t *testing.T) {
	tapes := all()
	list := mutants(&all()[0].cfg)
	killer := make([]string, len(list))
	each(len(list), func(i int) { killer[i] = kill(&quiet{}, tapes, &list[i]) })
	killed := 0
	for i := range list {
		why, told := indifferent[list[i].name]
		switch {
		case killer[i] == "" && !told:
			t.Errorf("%s may be 30 %% off and no case fails: add one", list[i].name)
		case killer[i] != "" && told:
			t.Errorf("%s is found by %s, and stands among those that nothing finds", list[i].name, killer[i])
		case told:
			t.Logf("%s: %s", list[i].name, why)
		default:
			killed++
			t.Logf("%s is found by %s", list[i].name, killer[i])
		}
	}
	t.Logf("%d of %d found", killed, len(list))
}

// kill returns the first case that fails with the mutant; those in which its
// rule speaks are tried first.
func kill(t testing.TB, tapes []*tape, m *mutant) string {
	for _, speaking := range []bool{true, false} {
		for _, tp := range tapes {
			if tp.speaks(m.rule) != speaking {
				continue
			}
			cfg := tp.cfg
			m.move(&cfg)
			e, err := engine.New(cfg)
			require.NoError(t, err, m.name)
			r := tp.replay(e)
			if _, wrong := tp.judge(&r); len(wrong) > 0 {
				return tp.s.Name
			}
		}
	}
	return ""
}

// speaks reports whether a rule's alarm was raised in the case.
func (tp *tape) speaks(r engine.RuleID) bool {
	for _, s := range tp.run.spans {
		if got, ok := s.alarm.Rule(); ok && got == r {
			return true
		}
	}
	return false
}
