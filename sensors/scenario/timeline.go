package scenario

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"headroom/rules/frame"
	"headroom/rules/units"
)

// maxDuration bounds every time in a file: a working day.
const maxDuration = 24 * time.Hour

// parsePoint reads a point in time, m:ss or m:ss.d since the start.
func parsePoint(text string) (time.Duration, error) {
	m, s, ok := strings.Cut(text, ":")
	minutes, errM := strconv.ParseUint(m, 10, 16)
	seconds, errS := strconv.ParseFloat(s, 64)
	if !ok || errM != nil || errS != nil || !(seconds >= 0 && seconds < 60) || strings.ContainsAny(s, "eExXpP+_") {
		return 0, fmt.Errorf("%q is not a point in time; write minutes and seconds since the start, for example 1:05", text)
	}
	d := time.Duration(minutes)*time.Minute + time.Duration(math.Round(seconds*1000))*time.Millisecond
	if d > maxDuration {
		return 0, fmt.Errorf("%q is later than %v, the longest scenario", text, maxDuration)
	}
	return d, nil
}

// parseDuration reads a length of time with its unit.
func parseDuration(text string) (time.Duration, error) {
	s, err := units.Parse(units.Duration, text)
	if err != nil {
		return 0, err
	}
	if !(s >= 0 && s <= maxDuration.Seconds()) {
		return 0, fmt.Errorf("%q: a time must lie between 0 and %v", text, maxDuration)
	}
	return time.Duration(math.Round(s*1000)) * time.Millisecond, nil
}

// entry is one line of the timeline: a step or a fault.
type entry struct {
	text    string
	at      time.Duration
	isFault bool
	step    Step
	fault   Fault
}

// UnmarshalText reads a line such as "0:10 trigger open" or
// "1:00 fault kinked_hose 98 % over 20 s until 2:00".
func (e *entry) UnmarshalText(text []byte) error {
	*e = entry{text: string(text)}
	w := strings.Fields(e.text)
	if len(w) < 2 {
		return fmt.Errorf(`%q: write a time and what happens then, for example "0:10 tap on"`, text)
	}
	at, err := parsePoint(w[0])
	if err != nil {
		return err
	}
	e.at = at
	if w[1] == "fault" {
		e.isFault = true
		e.fault, err = parseFault(at, w[2:])
	} else {
		e.step, err = parseStep(at, w[1:])
	}
	return err
}

// acts is constant data: what people can do, in the words of a file.
var acts = []struct {
	words  string
	action Action
	amount float64
}{
	{"tap on", Tap, 1}, {"tap off", Tap, 0},
	{"switch on", Switch, 1}, {"switch off", Switch, 0},
	{"trigger open", Trigger, 1}, {"trigger shut", Trigger, 0},
	{"nozzle on", Nozzle, 1}, {"nozzle off", Nozzle, 0},
	{"breaker reset", ResetBreaker, 1},
}

func parseStep(at time.Duration, w []string) (Step, error) {
	said := strings.Join(w, " ")
	for _, a := range acts {
		if a.words == said {
			return Step{at, a.action, a.amount}, nil
		}
	}
	rest := strings.Join(w[1:], " ")
	if w[0] == "tap" {
		share, err := units.Parse(units.Fraction, rest)
		if err == nil && !(share >= 0 && share <= 1) {
			err = fmt.Errorf("%q: a tap opens from 0 %% to 100 %%", rest)
		}
		return Step{at, Tap, share}, err
	}
	if w[0] == "fill" {
		flow, err := units.Parse(units.FlowRate, rest)
		if err == nil && !(flow >= 0 && flow < 1) {
			err = fmt.Errorf("%q: no tap fills a tank with that", rest)
		}
		return Step{at, FillTank, flow}, err
	}
	return Step{}, fmt.Errorf(`nobody can %q; write "fault NAME ...", "tap 50 %%", "fill 10 L/min" or one of: %s`, said, actWords())
}

func actWords() string {
	words := make([]string, len(acts))
	for i := range acts {
		words[i] = acts[i].words
	}
	return strings.Join(words, ", ")
}

// parseFault reads NAME [AMOUNT] [on CHANNEL] [over DURATION] [until POINT].
func parseFault(at time.Duration, w []string) (f Fault, err error) {
	f = Fault{At: at, Channel: frame.NumChannels}
	if len(w) == 0 {
		return f, fmt.Errorf("which fault? write one of %s", strings.Join(FaultNames(), ", "))
	}
	var ok bool
	if f.Kind, ok = FaultByName(w[0]); !ok {
		return f, fmt.Errorf("there is no fault %q; write one of %s", w[0], strings.Join(FaultNames(), ", "))
	}
	amount, clauses := splitClauses(w[1:])
	for _, c := range clauses {
		if err := f.readClause(c.key, c.value); err != nil {
			return f, err
		}
	}
	return f, f.readAmount(amount)
}

type clause struct{ key, value string }

// splitClauses cuts words at the keywords; what stands before the first is the
// amount.
func splitClauses(w []string) (amount string, out []clause) {
	for _, s := range w {
		switch {
		case s == "on" || s == "over" || s == "until":
			out = append(out, clause{key: s})
		case len(out) > 0:
			last := &out[len(out)-1]
			last.value = strings.TrimSpace(last.value + " " + s)
		default:
			amount = strings.TrimSpace(amount + " " + s)
		}
	}
	return amount, out
}

func (f *Fault) readClause(key, value string) (err error) {
	switch key {
	case "on":
		c, ok := frame.ByName(value)
		if !ok {
			return fmt.Errorf("there is no channel %q", value)
		}
		f.Channel = c
	case "over":
		f.Ramp, err = parseDuration(value)
	case "until":
		if f.Until, err = parsePoint(value); err == nil && f.Until <= f.At {
			err = fmt.Errorf("the fault would end at %s, before it began", value)
		}
	}
	return err
}

func (f *Fault) readAmount(text string) (err error) {
	info := faults[f.Kind]
	if info.channel != (f.Channel < frame.NumChannels) {
		if info.channel {
			return fmt.Errorf(`%s needs a channel; write for example "on flow"`, f.Kind)
		}
		return fmt.Errorf("%s concerns no single channel; leave out \"on ...\"", f.Kind)
	}
	if info.bare {
		if text != "" {
			return fmt.Errorf("%s has no amount; leave out %q", f.Kind, text)
		}
		return nil
	}
	q := info.quantity
	if f.Kind == SensorDrift {
		if q = f.Channel.Quantity(); q == units.Temperature {
			q = units.TemperatureDifference
		}
	}
	if f.Amount, err = units.Parse(q, text); err != nil {
		return fmt.Errorf("%s: how much? %w", f.Kind, err)
	}
	return f.checkAmount(text)
}

// checkAmount keeps amounts within what the plant can follow.
func (f *Fault) checkAmount(text string) error {
	lo, hi := 0.0, 1.0
	switch f.Kind {
	case WornNozzle, UnloaderUp:
		hi = 3
	case HotSupply:
		lo, hi = 273.15, 368.15
	case HotHose:
		hi = 60
	case LowVoltage:
		hi = 1000
	case AirLeak:
		hi = 0.05
	case SensorDrift:
		lo, hi = -1e8, 1e8
	}
	if !(f.Amount >= lo && f.Amount <= hi) {
		return fmt.Errorf("%s: %q lies outside %g to %g (SI)", f.Kind, text, lo, hi)
	}
	return nil
}
