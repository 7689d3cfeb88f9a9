package dashboard

import (
	"html/template"
	"strconv"
	"strings"
	"sync"
	"time"

	"headroom/daemon/snapshot"
	"headroom/dashboard/chart"
	"headroom/rules/engine"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/rules/words"
)

// chartView is one strip chart with its heading.
type chartView struct {
	// Channel names it for the script that keeps it up to date.
	Channel, Label, Place, Unit string
	SVG                         template.HTML
	// Off names the limits that lie outside the picture.
	Off string
}

// strip says which channels have a chart, and which rules' limits lie on the
// same axis.
type strip struct {
	channel frame.Channel
	rules   []engine.RuleID
	// minSpan in SI: the least height of the axis.
	minSpan float64
}

func strips() []strip {
	return []strip{
		{frame.InletPressure, []engine.RuleID{engine.InletLow, engine.InletHigh}, 20e3},
		{frame.WaterTemp, []engine.RuleID{engine.WaterHot}, 4},
		{frame.Flow, []engine.RuleID{engine.NoFlow}, 2.0 / 60000},
		{frame.MotorCurrent, []engine.RuleID{engine.CircuitLoad}, 2},
		{frame.OutletPressure, []engine.RuleID{engine.OutletHigh}, 500e3},
	}
}

// chartCache keeps the drawn charts, since they cost a hundred times what the
// rest of the page does and look the same to everybody with the same wishes.
type chartCache struct {
	mu   sync.Mutex
	made map[chartKey]madeCharts
}

type chartKey struct {
	units  units.System
	window time.Duration
}

type madeCharts struct {
	at     time.Time
	charts []chartView
}

// drawnCharts returns the strip charts, at most chartEvery old.
func (s *server) drawnCharts(p prefs) []chartView {
	snap := s.feed.Latest()
	if snap == nil {
		return nil
	}
	now := s.opt.Now()
	s.charts.mu.Lock()
	defer s.charts.mu.Unlock()
	k := chartKey{p.Units, p.Window}
	if m, ok := s.charts.made[k]; ok && now.Sub(m.at).Abs() < chartEvery {
		return m.charts
	}
	if s.charts.made == nil {
		s.charts.made = map[chartKey]madeCharts{}
	}
	m := madeCharts{now, s.drawCharts(p, snap)}
	s.charts.made[k] = m
	return m.charts
}

func (s *server) drawCharts(p prefs, snap *snapshot.Snapshot) []chartView {
	pts := s.feed.Points(p.Window)
	evs := s.feed.Events(0)
	var out []chartView
	for _, st := range strips() {
		if seen(pts, st.channel) {
			out = append(out, s.drawChart(p, st, pts, marks(evs, st), snap.Mono))
		}
	}
	return out
}

// seen reports whether the channel was fitted at any time in the window.
func seen(pts []snapshot.Point, c frame.Channel) bool {
	for i := range pts {
		if pts[i].Samples[c].Status != frame.NotFitted {
			return true
		}
	}
	return false
}

func (s *server) drawChart(p prefs, st strip, pts []snapshot.Point, ms []chart.Mark, now time.Duration) chartView {
	plot, u := s.plotOf(p, st, pts, ms, now)
	return chartView{
		Channel: st.channel.String(), Label: st.channel.Label(), Place: st.channel.Place(), Unit: u.Symbol,
		SVG: template.HTML(plot.SVG()), // #nosec: package chart escapes every text.
		Off: offScale(&plot, u),
	}
}

// unitOf returns the unit of a strip's axis.
func unitOf(st strip, sys units.System) units.Unit {
	if st.channel == frame.OutletPressure && sys == units.SI {
		return units.Unit{Symbol: "MPa", Scale: 1e-6, Decimals: 1}
	}
	return units.For(st.channel.Quantity(), sys)
}

// plotOf returns what a strip shows, and in which unit.
func (s *server) plotOf(p prefs, st strip, pts []snapshot.Point, ms []chart.Mark, now time.Duration) (chart.Plot, units.Unit) {
	u := unitOf(st, p.Units)
	plot := chart.Plot{
		Name: st.channel.Label() + " of the last " + strconv.Itoa(int(p.Window/time.Minute)) + " min, " + u.Symbol,
		From: (now - p.Window).Seconds(), To: now.Seconds(),
		Points: make([]chart.Point, len(pts)), Limits: s.chartLimits(st, u), Marks: ms,
		MaxStepS: oldAfter.Seconds(), MinSpan: st.minSpan * u.Scale, Decimals: min(u.Decimals, 1),
	}
	for i := range pts {
		smp := &pts[i].Samples[st.channel]
		plot.Points[i] = chart.Point{T: pts[i].Mono.Seconds(), Y: u.FromSI(smp.Value), OK: smp.OK()}
	}
	return plot, u
}

func (s *server) chartLimits(st strip, u units.Unit) []chart.Limit {
	if s.opt.Limits == nil {
		return nil
	}
	var out []chart.Limit
	for _, r := range st.rules {
		l := &s.opt.Limits[r]
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

// offScale names the limits outside the picture.
func offScale(p *chart.Plot, u units.Unit) string {
	var parts []string
	for _, l := range p.OffScale() {
		parts = append(parts, l.Label+" "+strconv.FormatFloat(l.Y, 'f', p.Decimals, 64)+" "+u.Symbol)
	}
	if len(parts) == 0 {
		return ""
	}
	return "Outside the picture: " + strings.Join(parts, ", ") + "."
}

// marks returns the alarms that came up on the chart's own limits or sensor.
func marks(evs []snapshot.Event, st strip) []chart.Mark {
	var out []chart.Mark
	for i := range evs {
		e := &evs[i]
		if !e.Raised {
			continue
		}
		ours := false
		if c, ok := e.Alarm.Channel(); ok {
			ours = c == st.channel
		}
		if r, ok := e.Alarm.Rule(); ok {
			for _, own := range st.rules {
				ours = ours || own == r
			}
		}
		if ours {
			out = append(out, chart.Mark{T: e.T.Seconds(), Label: e.Level.Words() + ": " + words.Alarm(e.Alarm).Title})
		}
	}
	return out
}
