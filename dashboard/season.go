package dashboard

import (
	"fmt"
	"html/template"
	"net/url"
	"slices"
	"strings"
	"time"

	"headroom/daemon/store"
)

const (
	// seasonDays is a season at most: what a person still takes in.
	seasonDays   = 366
	seasonWidth  = 720.0
	seasonHeight = 74.0
	// seasonFoot is the room for the names of months.
	seasonFoot = 16.0
	// fullDay is how many runs fill a column: a long day's work.
	fullDay = 12
)

// monthLink leads to the runs of a month.
type monthLink struct {
	Name, Href, Text string
	Tone             string
}

// dayOf is what happened on a day:
// runs, how many of them had an alarm of weight, and in how many boots one came
// outside of runs.
type dayOf struct{ runs, incidents, outside int }

// ofTheSeason keeps the runs of this machine, or those that were practice.
func ofTheSeason(runs []store.Run, practice bool) []store.Run {
	return slices.DeleteFunc(slices.Clone(runs), func(r store.Run) bool {
		if practice {
			return !r.Source.Readings.Practice()
		}
		return !r.Source.Counts()
	})
}

// season draws the days of the last year that has runs, one column a day: how
// many runs, and which days had an alarm of weight, in a run or not. Runs whose clock was never
// set stand on no day.
func season(runs []store.Run, now time.Time) (template.HTML, []monthLink) {
	days := map[string]dayOf{}
	var first, last time.Time
	for i := range runs {
		t := runs[i].StartWall.Local()
		if !clockSet(t) || now.Sub(t) > seasonDays*24*time.Hour || t.After(now.Add(24*time.Hour)) {
			continue
		}
		d := days[t.Format(time.DateOnly)]
		if runs[i].ID.N == 0 {
			d.outside++
		} else {
			d.runs++
			d.incidents += min(runs[i].Incidents, 1)
		}
		days[t.Format(time.DateOnly)] = d
		if first.IsZero() || t.Before(first) {
			first = t
		}
		if t.After(last) {
			last = t
		}
	}
	if first.IsZero() {
		return "", nil
	}
	from := time.Date(first.Year(), first.Month(), 1, 12, 0, 0, 0, time.Local)
	to := time.Date(last.Year(), last.Month()+1, 1, 12, 0, 0, 0, time.Local)
	return drawSeason(days, from, to), months(days, from, to)
}

// drawSeason writes the picture. Every text in it is our own.
func drawSeason(days map[string]dayOf, from, to time.Time) template.HTML {
	n := int(to.Sub(from).Hours()/24 + 0.5)
	step := min(seasonWidth/float64(n), 24)
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="season" viewBox="0 0 %g %g" role="img" aria-label="Runs on each day from %s to %s. The list of months below says the same in words.">`,
		seasonWidth, seasonHeight, from.Format("January 2006"), to.AddDate(0, 0, -1).Format("January 2006"))
	floor := seasonHeight - seasonFoot
	fmt.Fprintf(&b, `<path class="floor" d="M0 %gH%g"/>`, floor, step*float64(n))
	for k := range n {
		day := from.AddDate(0, 0, k)
		x := step * float64(k)
		if day.Day() == 1 {
			fmt.Fprintf(&b, `<path class="month" d="M%.1f 0V%g"/><text x="%.1f" y="%g">%s</text>`, x, seasonHeight, x+3, seasonHeight-3, day.Format("Jan"))
		}
		d, ok := days[day.Format(time.DateOnly)]
		if !ok {
			continue
		}
		h := (floor - 14) * float64(min(d.runs, fullDay)) / fullDay
		fmt.Fprintf(&b, `<rect class="runs" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`, x, floor-h, max(step-1, 1), h)
		if d.incidents+d.outside > 0 { // a triangle as well as a colour
			mid := x + step/2
			fmt.Fprintf(&b, `<path class="weight" d="M%.1f %.1fl4.5 9h-9z"/>`, mid, floor-h-11)
		}
	}
	b.WriteString("</svg>")
	return template.HTML(b.String()) // #nosec: numbers and names of months.
}

// months lists them, newest first, with what happened in words.
func months(days map[string]dayOf, from, to time.Time) (out []monthLink) {
	for m := from; m.Before(to); m = m.AddDate(0, 1, 0) {
		sum := dayOf{}
		for d := m; d.Month() == m.Month(); d = d.AddDate(0, 0, 1) {
			one := days[d.Format(time.DateOnly)]
			sum = dayOf{sum.runs + one.runs, sum.incidents + one.incidents, sum.outside + one.outside}
		}
		if sum.runs+sum.outside == 0 {
			continue
		}
		q := url.Values{"from": {m.Format(time.DateOnly)}, "to": {m.AddDate(0, 1, -1).Format(time.DateOnly)}}
		link := monthLink{Name: m.Format("January 2006"), Href: placeRuns + "?" + q.Encode(), Text: counted(sum.runs, "run", "runs"), Tone: "normal"}
		if sum.incidents > 0 {
			link.Tone, link.Text = "warning", link.Text+", "+fmt.Sprintf("%d with an alarm of weight", sum.incidents)
		}
		if sum.outside > 0 {
			link.Tone, link.Text = "warning", link.Text+", "+counted(sum.outside, "boot", "boots")+" with an alarm of weight outside of runs"
		}
		out = append([]monthLink{link}, out...)
	}
	return out
}
