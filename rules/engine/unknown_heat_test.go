package engine_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/engine"
	"headroom/rules/frame"
)

func at(f frame.Frame, a float64) frame.Frame {
	f.Set(frame.MotorCurrent, a)
	return f
}

func leastHeat(t *testing.T, v *engine.Verdict) (least float64, said bool) {
	for _, u := range v.Used() {
		if u.Term == engine.TermHeatAtLeast {
			require.True(t, u.Assumed)
			return u.Value, true
		}
	}
	return 0, false
}

// A board that starts anew knows nothing of the motor: the most that a motor
// within its plate has, 1/k^2 = 0.756 (IEC 60255-149), and it says so.
func TestUnknownMotorHeatIsNotCold(t *testing.T) {
	cfg := fixture()
	r := newRig(t, cfg)
	v := &r.feed(stopped(), time.Second).Rules[engine.MotorHeat]
	require.Equal(t, engine.Watching, v.Judge)
	require.InDelta(t, 0.756, v.Value, 0.005)
	require.True(t, v.Assumed)
	least, said := leastHeat(t, v)
	require.True(t, said)
	require.Zero(t, least)
	// After some time constants of 400 s it is known: 0.756 exp(-3) = 0.038.
	v = &r.feed(stopped(), 1210*time.Second).Rules[engine.MotorHeat]
	_, said = leastHeat(t, v)
	require.False(t, said)
	require.False(t, v.Assumed)
}

// A quarter of an hour at 21 A is (21/17.25)^2 (1 - exp(-900/400)) = 1.33 from
// cold. Then nobody sees the current for half an hour.
func TestHeatGoesOnWhereNobodySees(t *testing.T) {
	for _, c := range []struct {
		name string
		pass func(r *rig)
		most float64 // wanted, by hand: 1.48 at 21 A for ever
		why  string
	}{
		{"without a reading", func(r *rig) {
			f := healthy()
			f.Samples[frame.MotorCurrent] = frame.Sample{Status: frame.Missing}
			r.feed(f, 1800*time.Second)
		}, 1.48, "it may have gone on at 21 A"},
		{"without frames", func(r *rig) { r.now += 1800 * time.Second }, 1.48, "it may have gone on at 21 A"},
		{"switched off, sensor dead", func(r *rig) {
			f := stopped()
			f.Samples[frame.MotorCurrent] = frame.Sample{Status: frame.Failed}
			r.feed(f, 1800*time.Second)
		}, 0.02, "switched off it draws nothing: 1.4 exp(-4.5)"},
	} {
		r := newRig(t, fixture())
		r.feed(stopped(), 3*time.Second)
		r.feed(at(healthy(), 21), 900*time.Second)
		c.pass(r)
		v := &r.feed(at(healthy(), 14), time.Second).Rules[engine.MotorHeat]
		require.InDelta(t, c.most, v.Value, 0.03, "%s: %s", c.name, c.why)
		if c.most > 1 {
			least, said := leastHeat(t, v)
			require.True(t, said, c.name)
			require.Less(t, least, 0.05, "it may have stood and cooled")
			require.True(t, v.Assumed)
		}
	}
}

// The load that counts as continuous from three hours on (NFPA 70, Article 100)
// isn't over because nobody looked.
func TestAContinuousLoadCountsOnThroughAGap(t *testing.T) {
	r := newRig(t, fixture())
	r.running()
	left := func(v *engine.Verdicts) float64 {
		for _, u := range v.Rules[engine.CircuitLoad].Used() {
			if u.Term == engine.TermContinuousIn {
				return u.Value
			}
		}
		return 0
	}
	before := left(r.feed(at(healthy(), 17), 10*time.Second))
	r.now += time.Hour
	after := left(r.feed(at(healthy(), 17), time.Second))
	require.InDelta(t, 3601, before-after, 0.2)
}

// plated is the fixture with a motor of service factor 1: k is the least of a
// relay's, 1.05 (IEC 60947-4-1), and its rated current levels off at
// 1/1.05^2 = 0.907, above a warning at 85 %.
func plated() engine.Config {
	cfg := fixture()
	cfg.Plant.Overload.K = 1.05
	return cfg
}

// heatRaised lists when the stages of motor heat came.
func (r *rig) heatRaised() (at []string) {
	for _, tr := range r.log {
		if rule, ok := tr.Alarm.Rule(); ok && rule == engine.MotorHeat && tr.Raised {
			at = append(at, tr.Alarm.String()+" "+tr.T.Round(time.Second).String())
		}
	}
	return at
}

// A past that nobody saw is shown and marked, and is no alarm by itself.
func TestTheUnknownPastIsShownAndCriesNotAlone(t *testing.T) {
	for _, c := range []struct {
		name   string
		work   func(r *rig)
		raised []string
		source string
	}{
		{"it stands", func(r *rig) { r.feed(stopped(), time.Minute) }, nil, "it draws nothing"},
		{"at 13 A, met at work", func(r *rig) { r.feed(at(healthy(), 13), time.Minute) }, nil, "13 of 15 A level off at (13/15.75)^2 = 0.68"},
		{"an inrush of 0.6 s", func(r *rig) {
			r.feed(stopped(), 5*time.Second)
			r.feed(at(healthy(), 90), 600*time.Millisecond)
			r.feed(at(healthy(), 13), time.Minute)
		}, nil, "(90/15.75)^2 * 0.6/400 = 5 % more, from the start of a sound motor"},
		{"overloaded, met at work", func(r *rig) { r.feed(at(healthy(), 18), 5*time.Minute) }, []string{"motor_heat.warn 3s", "motor_heat.act 1m47s"},
			"18 A head for (18/15.75)^2 = 1.31: from 0.907 it has 1 after 400 s ln(0.399/0.306) = 106 s, and 1 s of delay; the warning after the 2 s that may be a start"},
	} {
		r := newRig(t, plated())
		v := &r.feed(stopped(), tick).Rules[engine.MotorHeat]
		require.InDelta(t, 1/(1.05*1.05), v.Value, 0.005, c.name)
		least, said := leastHeat(t, v)
		require.True(t, said, c.name)
		require.Zero(t, least, c.name)
		c.work(r)
		require.Equal(t, c.raised, r.heatRaised(), "%s: %s", c.name, c.source)
	}
}

// What was told of a motor that was seen hot stays while it may still be so.
func TestAHotMotorStaysToldThroughAGap(t *testing.T) {
	r := newRig(t, plated())
	r.feed(stopped(), 3*time.Second)
	r.feed(at(healthy(), 20), 10*time.Minute)
	require.Len(t, r.heatRaised(), 2)
	f := healthy()
	f.Samples[frame.MotorCurrent] = frame.Sample{Status: frame.Missing}
	r.feed(f, 20*time.Minute)
	v := r.feed(at(healthy(), 14), time.Minute)
	require.True(t, v.Alarms[engine.WarnAlarm(engine.MotorHeat)].Active, "it may have gone on at 20 A")
}

// sparse steps the frames, one every gap, and returns the last verdicts.
func (r *rig) sparse(gap time.Duration, frames ...frame.Frame) *engine.Verdicts {
	var v *engine.Verdicts
	for i := range frames {
		r.now += gap
		v = r.e.Step(&r.s, &frames[i], r.now)
		r.log = append(r.log, v.Transitions()...)
	}
	return v
}

// A start's current in one row of a recording with rows far apart lasted
// anything up to a start's time; in two it went on between them. Times by the
// model's own equation, from cold: 90 A are (90/17.25)^2 = 27.2 at 400 s.
func TestOneRowOfInrushIsNotTheWholeRow(t *testing.T) {
	cfg := fixture()
	cfg.MaxGap = 6 * time.Second
	for _, c := range []struct {
		name        string
		gap         time.Duration
		starts      int
		least, most float64
		source      string
	}{
		{"one row of 5 s", 5 * time.Second, 1, 0, 0.20, "at most the 3 s that a start may take: 27.2*3/400"},
		{"one row of 1 s", time.Second, 1, 0, 0.07, "at most the row: 27.2/400"},
		{"two rows of 1 s", time.Second, 2, 0.07, 0.135, "the second between the two rows for sure"},
		{"two rows of 5 s", 5 * time.Second, 2, 0.325, 0.525, "held fast: the 5 s between them for sure, and up to 3 s before"},
	} {
		r := newRig(t, cfg)
		r.feed(stopped(), time.Hour) // cold, and known to be
		rows := make([]frame.Frame, c.starts)
		for i := range rows {
			rows[i] = at(healthy(), 90)
		}
		v := &r.sparse(c.gap, rows...).Rules[engine.MotorHeat]
		least, said := leastHeat(t, v)
		if !said {
			least = v.Value
		}
		require.InDelta(t, c.least, least, 0.015, "%s: %s", c.name, c.source)
		require.InDelta(t, c.most, v.Value, 0.015, "%s: %s", c.name, c.source)
	}
}
