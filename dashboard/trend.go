package dashboard

import (
	"math"
	"net/http"

	"headroom/daemon/snapshot"
	"headroom/dashboard/chart"
	"headroom/rules/frame"
	"headroom/rules/units"
)

// trendJSON gives the live strip charts as numbers, in the units that the
// reader has chosen: the least and the most of each short time, since the page
// began or the connection was lost. The page's own script goes on from there
// with what the stream brings.
func (s *server) trendJSON(w http.ResponseWriter, r *http.Request) {
	snap := s.feed.Latest()
	if snap == nil {
		s.writeJSON(w, http.StatusServiceUnavailable, object{"error": "no tick yet"})
		return
	}
	p := s.prefsOf(r)
	pts, evs := s.feed.Points(p.Window), s.feed.Events(0)
	charts := []object{}
	for _, st := range strips() {
		if !seen(pts, st.channel) {
			continue
		}
		plot, u := s.plotOf(p, st, pts, marks(evs, st), snap.Mono)
		charts = append(charts, trendObject(st, &plot, u))
	}
	s.writeJSON(w, http.StatusOK, object{
		"version": 1, "now_s": snap.Mono.Seconds(), "window_s": p.Window.Seconds(), "seq": snap.Seq, "charts": charts,
	})
}

func trendObject(st strip, plot *chart.Plot, u units.Unit) object {
	limits, marked, runs := []object{}, []object{}, []object{}
	for _, l := range plot.Limits {
		limits = append(limits, object{"y": l.Y, "label": l.Label, "high_is_bad": l.HighIsBad, "outer": l.Outer})
	}
	for _, m := range plot.Marks {
		if m.T >= plot.From {
			marked = append(marked, markObject(m))
		}
	}
	for _, run := range plot.Runs() {
		bands := make([][3]float64, len(run.Reaches))
		for i, b := range run.Reaches {
			bands[i] = [3]float64{brief(b.T, 3), brief(b.Min, u.Decimals+2), brief(b.Max, u.Decimals+2)}
		}
		runs = append(runs, object{"from_s": run.From, "to_s": run.To, "bands": bands})
	}
	return object{
		"channel": st.channel.String(), "name": plot.Name, "unit": u.Symbol, "decimals": plot.Decimals,
		"least_span": plot.MinSpan, "longest_step_s": plot.MaxStepS, "limits": limits, "marks": marked, "runs": runs,
	}
}

func markObject(m chart.Mark) object { return object{"t_s": m.T, "label": m.Label} }

// brief leaves out digits that no chart can show.
func brief(v float64, decimals int) float64 {
	f := math.Pow10(decimals)
	return math.Round(v*f) / f
}

// trendTick is what the charts get with one tick: the least and the most of
// every channel since the tick before, null where one of the readings was not
// good, and the alarms that came up. Two ticks of the stream may be some of the
// machine's apart, and a spike between them must be seen.
type trendTick struct {
	T     float64             `json:"t_s"`
	Bands map[string]any      `json:"bands"`
	Marks map[string][]object `json:"marks,omitempty"`
}

func (s *server) trendTick(p prefs, snap *snapshot.Snapshot, since position) trendTick {
	pts, evs := s.feed.PointsAfter(since.seq), s.feed.Events(since.event)
	out := trendTick{T: snap.Mono.Seconds(), Bands: map[string]any{}}
	for _, st := range strips() {
		if !seen(pts, st.channel) {
			continue
		}
		name, u := st.channel.String(), unitOf(st, p.Units)
		out.Bands[name] = nil
		if lo, hi, ok := extremes(pts, st); ok {
			out.Bands[name] = [2]float64{brief(u.FromSI(lo), u.Decimals+2), brief(u.FromSI(hi), u.Decimals+2)}
		}
		for _, m := range marks(evs, st) {
			if out.Marks == nil {
				out.Marks = map[string][]object{}
			}
			out.Marks[name] = append(out.Marks[name], markObject(m))
		}
	}
	return out
}

// extremes returns the least and the most of a channel, ok where all of the
// points are good.
func extremes(pts []snapshot.Point, st strip) (lo, hi float64, ok bool) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for i := range pts {
		smp := &pts[i].Samples[st.channel]
		if !smp.OK() || bad(smp.Value) {
			return 0, 0, false
		}
		lo, hi = math.Min(lo, smp.Value), math.Max(hi, smp.Value)
	}
	return lo, hi, len(pts) > 0
}

// charted names the channels that have a chart now, so that the stream can tell
// when there is one more.
func charted(snap *snapshot.Snapshot) string {
	names := ""
	for _, st := range strips() {
		if snap.Verdicts.Samples[st.channel].Status != frame.NotFitted {
			names += st.channel.String() + " "
		}
	}
	return names
}
