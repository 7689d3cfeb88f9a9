package dashboard

import (
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"strings"

	"headroom/rules/frame"
	"headroom/rules/units"
)

// supplyTopic is the adviser's topic that judges the test.
const supplyTopic = "supply"

// supplyView is the supply test, one step at a time. What was read so far
// stands in the address, so that the test needs no memory here, can be sent to
// somebody else and survives a phone that goes dark.
type supplyView struct {
	chrome
	// Step is 1 without flow, 2 and 3 with one and two flows, 4 the verdict.
	Step int
	// Static, Flows as read so far, in words that the adviser takes.
	Static string
	Flows  []flowRow
	// Pressure and Flow are the present readings.
	Pressure, Flow liveReading
	// FlowsNow is set while water runs in the step without flow.
	FlowsNow bool
	// Return and Wanted go with the verdict.
	Return, Wanted string
	Answer         *Advice
	Tone           string
	// Example is how a pressure and a flow are written.
	PressureExample, FlowExample, BucketExample string
	Keep                                        string
	CanKeep                                     bool
	// Again and Back are addresses: from the start, and one step back.
	Again, BackURL string
}

type flowRow struct{ Flow, Pressure, Both string }

// liveReading is a channel for the steps of a test.
type liveReading struct {
	Fitted, Good bool
	Value, Why   string
	Steady       bool
}

const supplyPath = placeStart + "/supply"

func (s *server) supplyPage(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	sys := s.prefsOf(r).Units
	trouble := ""
	if q.Get("take") != "" {
		next, err := s.takeReading(q, sys)
		if err == nil {
			http.Redirect(w, r, supplyPath+"?"+next.Encode(), http.StatusSeeOther)
			return
		}
		trouble = asSentence(err)
	}
	s.write(w, r, "supply.html", s.supplyView(r, q, sys, trouble))
}

func (s *server) supplyView(r *http.Request, q url.Values, sys units.System, trouble string) *supplyView {
	v := &supplyView{
		chrome: s.chrome(r, "Supply test", placeStart), Static: q.Get("static"), Return: q.Get("return"), Wanted: q.Get("wanted"),
		Pressure: s.reading(frame.InletPressure, sys), Flow: s.reading(frame.Flow, sys), Again: supplyPath,
		PressureExample: "400 kPa", FlowExample: "15 L/min", BucketExample: "10 L",
	}
	if sys == units.US {
		v.PressureExample, v.FlowExample, v.BucketExample = "60 psi", "4 gpm", "5 gal"
	}
	// The page is asked for again and again, and must not take a reading by that.
	again := maps.Clone(q)
	again.Del("take")
	v.Here = strings.TrimSuffix(supplyPath+"?"+again.Encode(), "?")
	v.CanUnits, v.Trouble, v.Script, v.Said = true, trouble, "renew.js", saidOf(r, startSaid)
	for _, text := range q["flowing"] {
		flow, pressure, _ := strings.Cut(text, "@")
		v.Flows = append(v.Flows, flowRow{strings.TrimSpace(flow), strings.TrimSpace(pressure), text})
	}
	v.Step = supplyStep(q)
	v.FlowsNow = v.Step == 1 && s.flowsNow()
	v.BackURL = supplyBack(q)
	if v.Step == 4 {
		s.judgeSupply(v, q, sys)
		v.Script = ""
	}
	return v
}

// flowsM3s is a flow that is more than a meter's creeping, m3/s: half a litre a
// minute. Common practice, no source.
const flowsM3s = 0.5e-3 / 60

// flowsNow reports whether the meter sees water run.
func (s *server) flowsNow() bool {
	snap := s.feed.Latest()
	if snap == nil {
		return false
	}
	smp := snap.Verdicts.Samples[frame.Flow]
	return smp.OK() && smp.Value > flowsM3s
}

// supplyStep tells from what was read so far which step comes.
func supplyStep(q url.Values) int {
	switch {
	case q.Get("static") == "":
		return 1
	case len(q["flowing"]) == 0:
		return 2
	case len(q["flowing"]) == 1 && q.Get("end") == "":
		return 3
	}
	return 4
}

// supplyBack is the address without the last reading.
func supplyBack(q url.Values) string {
	back := url.Values{}
	if flows := q["flowing"]; len(flows) > 0 {
		back["static"] = q["static"]
		if flows = flows[:len(flows)-1]; len(flows) > 0 {
			back["flowing"] = flows
		}
	}
	return supplyPath + "?" + back.Encode()
}

// judgeSupply asks for the verdict.
func (s *server) judgeSupply(v *supplyView, q url.Values, sys units.System) {
	values := map[string][]string{"static": {v.Static}, "flowing": q["flowing"], "bypass-to": {v.Return}, "wanted": {v.Wanted}}
	a, err := s.opt.Adviser.Advise(supplyTopic, values, sys)
	if err != nil {
		v.Trouble = asSentence(err)
		return
	}
	v.Answer, v.Tone = &a, verdictTone(a.Verdict)
	v.Keep, v.CanKeep = q.Encode(), s.opt.Note != nil
}

// verdictTone is how a verdict looks: what is enough needs no colour.
func verdictTone(verdict string) string {
	switch verdict {
	case "no":
		return "warning"
	case "marginal":
		return "watch"
	}
	return "normal"
}

// keepSupply puts a test and its verdict into the record. It is judged anew
// from its readings, so that nobody can write down a verdict of their own.
func (s *server) keepSupply(w http.ResponseWriter, r *http.Request) {
	q, err := url.ParseQuery(r.PostFormValue("test"))
	if err == nil && supplyStep(q) != 4 {
		err = fmt.Errorf("the test isn't done yet")
	}
	sys := s.prefsOf(r).Units
	var v *supplyView
	if err == nil {
		v = s.supplyView(r, q, sys, "")
		if v.Answer == nil {
			err = fmt.Errorf("the test has no verdict: %s", v.Trouble)
		}
	}
	if err == nil {
		text := v.Answer.Headline + " Without flow " + v.Static
		for _, f := range v.Flows {
			text += "; " + f.Flow + " at " + f.Pressure
		}
		err = s.note(r.Context(), "supply_test", text+".", s.whoOf(r))
	}
	if err != nil {
		s.refusePage(w, r, http.StatusConflict, "The test was not kept: "+err.Error()+".")
		return
	}
	q.Set("said", "round")
	http.Redirect(w, r, supplyPath+"?"+q.Encode(), http.StatusSeeOther)
}
