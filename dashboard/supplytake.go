package dashboard

import (
	"errors"
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"time"

	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors/calibrate"
)

// readingWindow holds a full window of readings at ten a second.
const readingWindow = 8 * time.Second

// steadyAsLarge is how much less still a supply test may stand than a
// calibration: a tap is no test bench. Our judgement, no source.
const steadyAsLarge = 3

// steadiness judges the last seconds of a channel by the same test that a
// calibration's points must pass.
func (s *server) steadiness(ch frame.Channel) (calibrate.Steadiness, error) {
	snap := s.feed.Latest()
	switch {
	case snap == nil || s.age(snap) > oldAfter:
		return calibrate.Steadiness{}, errors.New("nothing is being read now")
	case !snap.Verdicts.Samples[ch].OK():
		return calibrate.Steadiness{}, errors.New(snap.Verdicts.Samples[ch].Status.Words())
	}
	var win calibrate.Window
	pts := s.feed.Points(readingWindow)
	for i := range pts {
		if smp := &pts[i].Samples[ch]; smp.OK() {
			win = win.Add(pts[i].Mono, smp.Value)
		} else {
			win = calibrate.Window{}
		}
	}
	tolerance, _ := calibrate.Tolerance(ch.Quantity())
	return win.Judge(steadyAsLarge * tolerance), nil
}

// reading is a channel's present value for a step of a test.
func (s *server) reading(ch frame.Channel, sys units.System) liveReading {
	v := liveReading{Value: "--"}
	snap := s.feed.Latest()
	if snap == nil {
		v.Why = "nothing has been read yet"
		return v
	}
	v.Fitted = snap.Verdicts.Samples[ch].Status != frame.NotFitted
	st, err := s.steadiness(ch)
	if err != nil {
		v.Why = err.Error()
		return v
	}
	v.Good, v.Steady, v.Why = true, st.Steady, st.Why
	v.Value = show(ch.Quantity(), sys, snap.Verdicts.Samples[ch].Value)
	return v
}

// steadyText is a steady reading in words that can be parsed again, with a
// digit more than a screen shows.
func (s *server) steadyText(ch frame.Channel, sys units.System) (string, error) {
	st, err := s.steadiness(ch)
	if err != nil {
		return "", fmt.Errorf("cannot read the %s: %w; read your own gauge and write its value", strings.ToLower(ch.Label()), err)
	}
	if !st.Steady {
		return "", fmt.Errorf("cannot take the %s yet: %s", strings.ToLower(ch.Label()), st.Why)
	}
	u := units.For(ch.Quantity(), sys)
	return strconv.FormatFloat(u.FromSI(st.Mean), 'f', u.Decimals+1, 64) + " " + u.Symbol, nil
}

// takeReading adds what a step of the supply test read to the address.
func (s *server) takeReading(q url.Values, sys units.System) (url.Values, error) {
	next := url.Values{}
	for _, k := range []string{"static", "flowing", "return", "wanted"} {
		for _, text := range q[k] {
			if text = strings.TrimSpace(text); text != "" {
				next.Add(k, text)
			}
		}
	}
	p, err := s.typedOrRead(q.Get("pressure"), frame.InletPressure, sys)
	if err != nil {
		return nil, err
	}
	if q.Get("take") == "static" {
		if strings.TrimSpace(q.Get("pressure")) == "" && s.flowsNow() {
			return nil, errors.New("cannot take the pressure without flow: water is running. Shut everything and wait until the flow is zero, or write what your own gauge showed while nothing ran")
		}
		next.Set("static", p)
		return next, nil
	}
	flow, err := s.flowText(q, sys)
	if err != nil {
		return nil, err
	}
	if len(next["flowing"]) >= 2 {
		return nil, errors.New("the test has two flows already")
	}
	next.Add("flowing", flow+" @ "+p)
	return next, nil
}

// typedOrRead takes what a person wrote, in the shown unit where it is a bare
// number, or else the sensor's steady reading.
func (s *server) typedOrRead(text string, ch frame.Channel, sys units.System) (string, error) {
	if text = strings.TrimSpace(text); text == "" {
		return s.steadyText(ch, sys)
	}
	text, err := typedNumber(text, units.For(ch.Quantity(), sys).Symbol)
	if err == nil {
		_, err = units.Parse(ch.Quantity(), text)
	}
	return text, err
}

// flowText is the flow by bucket and watch where both are given, as typed, or
// as the meter reads.
func (s *server) flowText(q url.Values, sys units.System) (string, error) {
	bucket, seconds := strings.TrimSpace(q.Get("bucket")), strings.TrimSpace(q.Get("seconds"))
	if bucket == "" && seconds == "" {
		return s.typedOrRead(q.Get("flow"), frame.Flow, sys)
	}
	bucket, err := typedNumber(bucket, units.For(units.Volume, sys).Symbol)
	if err != nil {
		return "", fmt.Errorf("cannot use the bucket: %w", err)
	}
	litres, err := units.Parse(units.Volume, bucket)
	if err != nil {
		return "", fmt.Errorf("cannot use the bucket: %w", err)
	}
	t, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(strings.TrimSuffix(seconds, "s")), " "), 64)
	if err != nil || !(t >= 1 && t <= 3600) {
		return "", errors.New("cannot use the time: write in how many seconds the bucket was full, 1 to 3600")
	}
	u := units.For(units.FlowRate, sys)
	return strconv.FormatFloat(u.FromSI(litres/t), 'f', u.Decimals+1, 64) + " " + u.Symbol, nil
}
