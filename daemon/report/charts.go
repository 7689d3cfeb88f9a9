package report

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"headroom/daemon/review"
	"headroom/daemon/store"
	"headroom/dashboard/chart"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
)

const (
	// across is how many bands a chart has: about one for each pixel of print.
	across = 600
	// sheetHeight is what fits on a page below a heading, in the sheet's own
	// units: Letter is the shorter paper.
	sheetHeight = 915
	// maxCloseUps, and how much of the time before and after is in one.
	maxCloseUps             = 3
	closeBefore, closeAfter = 30 * time.Second, time.Minute
	// longestCloseUp bounds one that goes on and on.
	longestCloseUp = 5 * time.Minute
)

// drafter draws the charts of a report.
type drafter struct {
	ctx context.Context
	r   Record
	*Report
}

// whole draws the whole span, over as many sheets as it takes.
func (d *drafter) whole() ([]chart.Sheet, error) {
	h := &d.Account.Head
	panels, err := d.panels(h.From, h.To)
	if err != nil || len(panels) == 0 {
		return nil, err
	}
	var out []chart.Sheet
	s := d.sheet("c1", "All readings", h.From, h.To)
	for i := range panels {
		s.Panels = append(s.Panels, panels[i])
		if s.Height() > sheetHeight && len(s.Panels) > 1 {
			s.Panels = s.Panels[:len(s.Panels)-1]
			out = append(out, s)
			s = d.sheet("c"+strconv.Itoa(len(out)+1), "All readings, continued", h.From, h.To)
			s.Panels = append(s.Panels, panels[i])
		}
	}
	return append(out, s), nil
}

// closeUps draws the minutes around the first alarms of weight, where the whole
// span is too long to show them.
func (d *drafter) closeUps() (out []chart.Sheet, err error) {
	h := &d.Account.Head
	last := time.Duration(0)
	for i := range d.Account.Summary.Alarms {
		a := &d.Account.Summary.Alarms[i]
		if len(out) == maxCloseUps || a.Level < engine.Warning || a.Raised < last {
			continue
		}
		from, to := d.closeUpOf(a)
		from, to = max(from, h.From), min(to, h.To)
		last = to
		if to <= from || 2*(to-from) > h.To-h.From {
			continue
		}
		panels, err := d.panels(from, to)
		if err != nil {
			return nil, err
		}
		s := d.sheet("z"+strconv.Itoa(len(out)+1), "Around “"+a.Title+"”, "+h.Since(a.Raised), from, to)
		for k := range panels {
			if s.Panels = append(s.Panels, panels[k]); s.Height() > sheetHeight {
				s.Panels = s.Panels[:len(s.Panels)-1]
				break
			}
		}
		out = append(out, s)
	}
	return out, nil
}

// closeUpOf spans what changed before an alarm and how it went on.
func (d *drafter) closeUpOf(a *review.AlarmLife) (from, to time.Duration) {
	from, to = a.Raised-closeBefore, a.Raised+closeAfter
	for i := range d.Account.Sentences {
		s := &d.Account.Sentences[i]
		if s.Kind == review.KindChange && s.From < a.Raised && s.From > a.Raised-longestCloseUp/2 && s.From-closeBefore/3 < from {
			from = s.From - closeBefore/3
		}
	}
	if a.HasGone && a.Gone+closeBefore/2 > to {
		to = a.Gone + closeBefore/2
	}
	return from, min(to, from+longestCloseUp)
}

// sheet begins a sheet with its times and marks.
func (d *drafter) sheet(id, name string, from, to time.Duration) chart.Sheet {
	h := &d.Account.Head
	s := chart.Sheet{
		ID: id, Name: name, From: from.Seconds(), To: to.Seconds(),
		Describe: "Readings from " + h.Since(from) + " to " + h.Since(to) + ", with limits and numbered events; the account tells each of them in words.",
		Ticks:    chart.TimeTicks(from.Seconds(), to.Seconds(), h.Start.Seconds(), func(t, step float64) string { return axisTime(t-h.Start.Seconds(), step) }),
	}
	for i := range d.Account.Sentences {
		x := &d.Account.Sentences[i]
		if m, ok := d.mark(x); ok && x.From >= from && x.From <= to {
			s.Marks = append(s.Marks, m)
		}
	}
	return s
}

// mark draws what happened at a moment: alarms, acts, starts and stops, but not
// each change that the curve itself shows.
func (d *drafter) mark(s *review.Sentence) (chart.SheetMark, bool) {
	switch s.Kind {
	case review.KindStart, review.KindStop, review.KindSwitch, review.KindAlarm, review.KindAct, review.KindSensor, review.KindCleared, review.KindClock, review.KindState:
		return chart.SheetMark{
			T: s.From.Seconds(), Number: s.N, Label: s.Text(d.Options.Units), Act: s.Kind == review.KindAct,
			Strong: s.Kind == review.KindAlarm && s.Level >= uint8(engine.Act),
		}, true
	}
	return chart.SheetMark{}, false
}

// axisTime writes a time since the start for the axis.
func axisTime(t, step float64) string {
	sign := "+"
	if t < 0 {
		sign, t = "−", -t
	}
	switch {
	case step < 1:
		return fmt.Sprintf("%s%d:%04.1f", sign, int(t)/60, math.Mod(t, 60))
	case t < 3600 && step < 3600:
		return fmt.Sprintf("%s%d:%02d", sign, int(math.Round(t))/60, int(math.Round(t))%60)
	case step < 60:
		return fmt.Sprintf("%s%d:%02d:%02d", sign, int(math.Round(t))/3600, int(math.Round(t))/60%60, int(math.Round(t))%60)
	}
	return fmt.Sprintf("%s%d h %02d", sign, int(math.Round(t))/3600, int(math.Round(t))/60%60)
}

// panels are those of all channels that were fitted.
func (d *drafter) panels(from, to time.Duration) (out []chart.Panel, err error) {
	for ch := range frame.NumChannels {
		bs, err := d.bands(ch, from, to)
		if err != nil {
			return nil, err
		}
		if p, ok := d.panel(ch, bs); ok {
			out = append(out, p)
		}
	}
	return out, nil
}

// bands asks for as many spans as have some frames each, so that no span
// between two frames looks like a hole.
func (d *drafter) bands(ch frame.Channel, from, to time.Duration) ([]store.Bucket, error) {
	id := store.RunID{Boot: d.Account.Head.ID.Boot}
	from = max(from, 1)
	all, err := d.r.Buckets(d.ctx, id, ch, from, to, 1)
	if err != nil || len(all) == 0 || all[0].Frames == 0 {
		return nil, err
	}
	n := min(max(int(all[0].Frames/3), 1), across)
	return d.r.Buckets(d.ctx, id, ch, from, to, n)
}

// style is how a channel is drawn: the least span of its axis in SI, and the
// rules whose limits lie on the same axis.
type style struct {
	minSpan float64
	rules   []engine.RuleID
}

var styles = [frame.NumChannels]style{
	frame.InletPressure:  {20e3, []engine.RuleID{engine.InletLow, engine.InletHigh}},
	frame.WaterTemp:      {4, []engine.RuleID{engine.WaterHot}},
	frame.Flow:           {2.0 / 60e3, []engine.RuleID{engine.NoFlow}},
	frame.MotorCurrent:   {2, []engine.RuleID{engine.CircuitLoad}},
	frame.OutletPressure: {500e3, []engine.RuleID{engine.OutletHigh}},
	frame.ShaftSpeed:     {2, nil},
	frame.SupplyVoltage:  {10, nil},
	frame.Vibration:      {2, nil},
	frame.Vibration2:     {2, nil},
	frame.InletPulsation: {5e3, nil},
	frame.AmbientTemp:    {4, nil},
	frame.TankLevel:      {0.2, []engine.RuleID{engine.TankLow}},
	frame.MotorTemp:      {4, nil},
	frame.AirPressure:    {5e3, nil},
}

// unitOf is the unit of a channel's axis; high pressures in SI are in MPa.
func unitOf(ch frame.Channel, sys units.System) units.Unit {
	if ch == frame.OutletPressure && sys == units.SI {
		return units.Unit{Symbol: "MPa", Scale: 1e-6, Decimals: 1}
	}
	return units.For(ch.Quantity(), sys)
}

// panel draws one channel; ok is false where it was never fitted.
func (d *drafter) panel(ch frame.Channel, bs []store.Bucket) (p chart.Panel, ok bool) {
	u := unitOf(ch, d.Options.Units)
	p = chart.Panel{
		Name: ch.Label(), Unit: u.Symbol, Switch: ch.Digital(), MinSpan: styles[ch].minSpan * u.Scale, Decimals: min(u.Decimals, 1),
	}
	var frames, usable int64
	for i := range bs {
		b := &bs[i]
		frames, usable = frames+b.Frames, usable+b.OK
		band := chart.Band{From: b.From.Seconds(), To: b.To.Seconds()}
		switch {
		case b.OK > 0:
			band.Kind, band.Min, band.Max = chart.Known, u.FromSI(b.Min), u.FromSI(b.Max)
		case b.Frames > 0:
			band.Kind = chart.Unknown
		}
		p.Bands = append(p.Bands, band)
	}
	if frames == 0 || usable == 0 && neverFitted(bs) {
		return p, false
	}
	p.Limits = d.limits(ch, u)
	p.Note = note(&p, frames, usable, u)
	return p, true
}

// neverFitted reports whether no status but that was seen.
func neverFitted(bs []store.Bucket) bool {
	for i := range bs {
		if bs[i].Seen&^(1<<frame.NotFitted) != 0 {
			return false
		}
	}
	return true
}

// note says what the picture does not: limits outside, and lost readings.
func note(p *chart.Panel, frames, usable int64, u units.Unit) string {
	var parts []string
	for _, l := range p.OffScale() {
		parts = append(parts, l.Label+" "+strconv.FormatFloat(l.Y, 'f', p.Decimals, 64)+" "+u.Symbol+" is outside")
	}
	if usable < frames {
		parts = append(parts, fmt.Sprintf("usable for %.1f %% of the time", math.Floor(1000*float64(usable)/float64(frames))/10))
	}
	return strings.Join(parts, "; ")
}

// limits are those in force that lie on the channel's axis.
func (d *drafter) limits(ch frame.Channel, u units.Unit) (out []chart.Limit) {
	if d.Config == nil {
		return nil
	}
	for _, r := range styles[ch].rules {
		l := &d.Config.Engine.Rules[r]
		if !l.On {
			continue
		}
		high := r.Spec().HighIsBad
		if y, ok := l.Outer(); ok {
			out = append(out, chart.Limit{Y: u.FromSI(y), Label: "limit", HighIsBad: high, Outer: true})
		}
		if l.HasAct && l.HasWarn {
			out = append(out, chart.Limit{Y: u.FromSI(l.Warn), Label: "warning", HighIsBad: high})
		}
	}
	return out
}
