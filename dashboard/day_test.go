package dashboard

import (
	"context"
	"errors"
	"slices"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/daemon/checklist"
	"headroom/rules/frame"
	"headroom/rules/units"
	"headroom/sensors/calibrate"
)

// fakeCalibrator has real dialogues and stores, and nothing behind them.
type fakeCalibrator struct {
	t     testing.TB
	store *calibrate.Store
	d     map[frame.Channel]calibrate.Dialogue
	at    time.Duration
	broke error
}

func newFakeCalibrator(t testing.TB) *fakeCalibrator {
	s, err := calibrate.NewStore(t.TempDir())
	require.NoError(t, err)
	return &fakeCalibrator{t: t, store: s, d: map[frame.Channel]calibrate.Dialogue{}}
}

func (f *fakeCalibrator) Practice() string { return "The readings are simulated: a practice." }

func (f *fakeCalibrator) Cannot(ch frame.Channel) string {
	if ch.Digital() {
		return "an on/off input has nothing to calibrate"
	}
	return ""
}

func (f *fakeCalibrator) History(ch frame.Channel) ([]calibrate.Calibration, error) {
	return f.store.Load(ch)
}

func (f *fakeCalibrator) Begin(ch frame.Channel, _ string) error {
	if f.broke != nil {
		return f.broke
	}
	before, err := f.store.Latest(ch)
	require.NoError(f.t, err)
	tolerance, _ := calibrate.Tolerance(ch.Quantity())
	f.d[ch], err = calibrate.Begin(calibrate.Setup{Channel: ch, Tolerance: tolerance, Before: before})
	return err
}

func (f *fakeCalibrator) View(ch frame.Channel) (CalibrationView, bool) {
	d, ok := f.d[ch]
	before, _ := f.store.Latest(ch)
	return CalibrationView{View: d.View(), Who: "Ada", Began: noon, Before: before, Mark: "m", Active: d.Active()}, ok
}

func (f *fakeCalibrator) Next(ch frame.Channel, mark string, e calibrate.Event) error {
	if mark != "m" {
		return errors.New("somebody else went on")
	}
	d, err := f.d[ch].Next(e)
	if err != nil {
		return err
	}
	if d.Step() == calibrate.Saving {
		require.NoError(f.t, f.store.Append(d.Result()))
		d, err = d.Next(calibrate.Saved{})
	}
	f.d[ch] = d
	return err
}

func (f *fakeCalibrator) Undo(ch frame.Channel, mark, _ string) (calibrate.Calibration, error) {
	all, _ := f.store.Load(ch)
	if mark != calibrate.Mark(all) {
		return calibrate.Calibration{}, errors.New("the calibrations changed meanwhile")
	}
	if len(all) == 0 {
		return calibrate.Calibration{}, errors.New("there is no calibration to undo")
	}
	return all[0], f.store.Append(all[0])
}

// steady gives readings that stand at a value.
func (f *fakeCalibrator) steady(ch frame.Channel, value float64) {
	for i := range calibrate.WindowSize {
		f.at += 100 * time.Millisecond
		d, err := f.d[ch].Next(calibrate.Sample{At: f.at, Sample: frame.Sample{Value: value + []float64{100, -100, -100, 100}[i%4], Status: frame.Good}})
		require.NoError(f.t, err)
		f.d[ch] = d
	}
}

// fakeAdviser knows one question and the supply test.
type fakeAdviser struct{ err error }

func (fakeAdviser) Topics() []AdviceTopic {
	return []AdviceTopic{
		{Name: "supply", Help: "is the supply enough", Fields: []AdviceField{{Name: "static", Label: "Pressure without flow", Quantity: units.Pressure, Needed: true, Times: 1}, {Name: "flowing", Label: "With water running", Help: "A reading.", Kind: AdviceReading, Needed: true, Times: 2}, {Name: "wanted", Label: "Pressure wanted", Quantity: units.Pressure, Without: "the limit", Times: 1}, {Name: "temp", Label: "Temperature", Quantity: units.Temperature, Fallback: 288.15, Times: 1}, {Name: "job", Label: "It should last", Quantity: units.Duration, Unit: "min", Fallback: 1800, Times: 1}}},
		{Name: "line", Help: "hose and nozzle for a line", Fields: []AdviceField{{Name: "line", Label: "Line", Help: "Its diameter.", Quantity: units.Bore, Needed: true, Times: 1}, {Name: "gauge", Label: "Gauge", Kind: AdviceChoice, Choices: []string{"12 AWG", "14 AWG"}, Without: "none", Times: 1}, {Name: "holes", Label: "Holes", Kind: AdviceCount, Without: "one", Times: 1}}},
	}
}

func (f fakeAdviser) Advise(topic string, values map[string][]string, _ units.System) (Advice, error) {
	if f.err != nil {
		return Advice{}, f.err
	}
	a := Advice{Verdict: "marginal", Headline: "It is just enough.", Text: []string{"The tap gives 12 to 15 L/min."}, Table: [][]string{{"pressure", "flow"}, {"100 kPa", "12 L/min"}},
		Help: []string{"A shorter hose."}, Notes: []string{"The hose's length is assumed."}, Caution: "An aid."}
	if topic == supplyTopic {
		a.Text = append(a.Text, values["static"]...)
		a.Text = append(a.Text, values["flowing"]...)
		a.Text = append(a.Text, values["job"]...)
	}
	return a, nil
}

// fakeOutputs remember what was asked of them.
type fakeOutputs struct {
	mu  sync.Mutex
	did []string
	err error
	// presses are the names of the presses of each hold and release.
	presses []string
}

func (f *fakeOutputs) note(what string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.did = append(f.did, what)
	return f.err
}

func (f *fakeOutputs) list() []string {
	f.mu.Lock()
	defer f.mu.Unlock()
	return append([]string(nil), f.did...)
}

func (f *fakeOutputs) named() []string {
	f.mu.Lock()
	defer f.mu.Unlock()
	return append([]string(nil), f.presses...)
}

func (f *fakeOutputs) fail(why string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.err = errors.New(why)
}

func (f *fakeOutputs) TestOutputs() []OutputState {
	return []OutputState{
		{Name: "beacon", Label: "Beacon", Commanded: "not energised", Does: "Hold: beacon on"},
		{Name: "stop", Label: "Stop relay", Commanded: "not energised", Does: "Open it; a reset closes it again", CanReset: true, Waiting: true},
	}
}
func (f *fakeOutputs) HoldOutput(name, press string) (began bool, err error) {
	began = press == "" || !slices.Contains(f.named(), press)
	f.pressed(press)
	return began, f.note("hold " + name)
}
func (f *fakeOutputs) ReleaseOutput(name, press string) {
	f.pressed(press)
	_ = f.note("release " + name)
}
func (f *fakeOutputs) pressed(press string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.presses = append(f.presses, press)
}
func (f *fakeOutputs) ResetStop() error { return f.note("reset") }

// noted is what was put into the record.
type noted struct{ what, text, who string }

// day is a dashboard with everything that belongs to a day's work.
type day struct {
	opt     Options
	cal     *fakeCalibrator
	outputs *fakeOutputs
	notes   []noted
	noteErr error
}

func newDay(t testing.TB) *day {
	d := &day{opt: testOptions(), cal: newFakeCalibrator(t), outputs: &fakeOutputs{}}
	d.opt.Calibrator, d.opt.Outputs, d.opt.Adviser = d.cal, d.outputs, fakeAdviser{}
	d.opt.Checklist = checklist.NewKeeper(t.TempDir(), false)
	d.opt.Raw = func(c frame.Channel) string {
		if c == frame.InletPressure {
			return "1.2345 V, 24.7 % of supply"
		}
		return ""
	}
	d.opt.Physics = func() string {
		return "# Physics\n\nA *law* and `code`.\n\n## Water\n\n| a | b |\n|---|---|\n| 1 | x\\|y |\n"
	}
	d.opt.Wiring = fstest.MapFS{
		"README.md": {Data: []byte("# Wiring\n\n## Inlet\n\n![Inlet](inlet.svg)\n\n* One\n* **Two**\n")},
		"inlet.svg": {Data: []byte(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 80 40"><path d="M0 0h80v40z"/></svg>`)},
	}
	d.opt.Note = func(_ context.Context, what, text, who string) error {
		if d.noteErr == nil {
			d.notes = append(d.notes, noted{what, text, who})
		}
		return d.noteErr
	}
	return d
}

// dayPages are the pages that have no stream.
var dayPages = map[string]string{
	"start": "/start", "list": "/start/list", "supply_1": "/start/supply", "supply_2": "/start/supply?static=420+kPa",
	"supply_3": "/start/supply?static=420+kPa&flowing=12+L%2Fmin+%40+300+kPa", "supply_4": "/start/supply?static=420+kPa&flowing=12+L%2Fmin+%40+300+kPa&end=1",
	"advice": "/start/advice/line", "advice_answer": "/start/advice/line?line=4+in", "setup": "/setup", "outputs": "/setup/outputs",
	"calibration": "/calibration/inlet_pressure", "calibration_none": "/calibration/trigger", "physics": "/handbook/physics", "wiring": "/handbook/wiring",
	"handbook": "/handbook", "alarm_page": "/alarms/inlet_low.act", "refused": "/alarms/nothing", "cautions": "/cautions", "limits": "/limits", "us": "/limits?units=US",
}
