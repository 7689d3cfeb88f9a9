package bench

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"time"

	"headroom/rules/frame"
)

// State is how far a test has come.
type State string

// The states. Only Complete, with every step done, is a whole test.
const (
	Running  State = "running"
	Complete State = "complete"
	Aborted  State = "aborted"
)

// Reading is one channel over one window.
type Reading struct {
	Channel string `json:"channel"`
	// Mean, and Spread of one reading about the trend; Effective is how many
	// independent readings the window is worth.
	Mean      float64 `json:"mean"`
	Spread    float64 `json:"spread"`
	Effective float64 `json:"effective"`
	// N is the number of frames.
	N int `json:"n"`
	// Slope along the window, per second, its standard uncertainty and the
	// degrees of freedom behind that.
	Slope    float64 `json:"slope"`
	SlopeStd float64 `json:"slope_std"`
	SlopeDoF float64 `json:"slope_dof"`
}

// Point is one step's outcome.
type Point struct {
	Step string `json:"step"`
	Kind Kind   `json:"kind"`
	// From and To on the frames' clock; Wall is when it ended.
	From time.Duration `json:"from"`
	To   time.Duration `json:"to"`
	Wall time.Time     `json:"wall"`
	// Readings of every good channel.
	Readings []Reading `json:"readings"`
	// AsItIs is set where a person took the point away from its target.
	AsItIs bool `json:"as_it_is,omitempty"`
}

// Find returns a channel's reading; ok is false where it wasn't good.
func (p *Point) Find(c frame.Channel) (r Reading, ok bool) {
	name := c.String()
	for _, r := range p.Readings {
		if r.Channel == name {
			return r, true
		}
	}
	return Reading{}, false
}

// Entry is a value that a person told.
type Entry struct {
	Step string `json:"step"`
	Kind Kind   `json:"kind"`
	// Value in SI, and Half, the limits of its error.
	Value float64   `json:"value"`
	Half  float64   `json:"half"`
	Wall  time.Time `json:"wall"`
}

// Gap is a step that was left out, or a break of the test, with its reason.
type Gap struct {
	Step string    `json:"step,omitempty"`
	Why  string    `json:"why"`
	Wall time.Time `json:"wall"`
}

// Record is everything of one test, enough to compute every figure anew.
type Record struct {
	Version int `json:"version"`
	// ID names the test: the date, the time and the pump.
	ID string `json:"id"`
	// Pump, Instruments, Limits and Plan as they were when it began.
	Pump        Pump         `json:"pump"`
	Instruments []Instrument `json:"instruments"`
	Limits      []Limit      `json:"limits"`
	Plan        Plan         `json:"plan"`
	// Who did it, where, and a Note.
	Who   string `json:"who"`
	Where string `json:"where,omitempty"`
	Note  string `json:"note,omitempty"`
	// Source is where the readings came from: the sensors, the simulator or a
	// recording, in words.
	Source string `json:"source"`
	// AltitudeM for the air pressure without a barometer; BoreM of the inlet.
	AltitudeM float64 `json:"altitude_m"`
	BoreM     float64 `json:"bore_m"`
	// Began and Ended; Ended is zero while it runs.
	Began time.Time `json:"began"`
	Ended time.Time `json:"ended"`
	State State     `json:"state"`
	// Points in the order they were taken; the newest of a step counts.
	Points  []Point `json:"points"`
	Entries []Entry `json:"entries"`
	Skipped []Gap   `json:"skipped"`
	// Breaks are interruptions that the test went on after.
	Breaks []Gap `json:"breaks"`
	// Next is the step that the session stands at.
	Next int `json:"next"`
}

// recordVersion is written into each record.
const recordVersion = 1

// Missing lists the steps that a whole test has and this one lacks.
func (r *Record) Missing() []Step {
	var out []Step
	for _, s := range r.Plan.Steps {
		if !s.Optional && !r.done(s) {
			out = append(out, s)
		}
	}
	return out
}

// Whole reports whether the test was finished with every step: anything else
// is partial.
func (r *Record) Whole() bool { return r.State == Complete && len(r.Missing()) == 0 }

// done reports whether a step has its point or its entry.
func (r *Record) done(s Step) bool {
	if s.Kind == Inlet {
		return len(r.of(Inlet)) >= 2 && r.inletFell()
	}
	for i := range r.Points {
		if r.Points[i].Step == s.ID {
			return true
		}
	}
	for i := range r.Entries {
		if r.Entries[i].Step == s.ID {
			return true
		}
	}
	return false
}

// of returns the points of some kinds; of each step the newest, but for the
// inlet, which has many.
func (r *Record) of(kinds ...Kind) []*Point {
	var out []*Point
	for i := range r.Points {
		p := &r.Points[i]
		for _, k := range kinds {
			if p.Kind == k && (k == Inlet || !r.again(i)) {
				out = append(out, p)
			}
		}
	}
	return out
}

// again reports whether a later point belongs to the same step.
func (r *Record) again(i int) bool {
	for j := i + 1; j < len(r.Points); j++ {
		if r.Points[j].Step == r.Points[i].Step {
			return true
		}
	}
	return false
}

// entry returns the newest entry of a kind.
func (r *Record) entry(k Kind) (e *Entry, ok bool) {
	for i := range r.Entries {
		if r.Entries[i].Kind == k {
			e, ok = &r.Entries[i], true
		}
	}
	return e, ok
}

// instrument returns the instrument of a channel; ok is false where none is
// stated, and then no figure that needs it has an uncertainty.
func (r *Record) instrument(c frame.Channel) (i Instrument, ok bool) {
	for _, i := range r.Instruments {
		if i.Channel == c.String() {
			return i, true
		}
	}
	return Instrument{}, false
}

// sealed is the file: the record and the hash over its bytes.
type sealed struct {
	Hash   string          `json:"hash"`
	Record json.RawMessage `json:"record"`
}

// Encode writes the record as a file, with its hash.
func (r *Record) Encode() ([]byte, error) {
	body, err := json.Marshal(r)
	if err != nil {
		return nil, fmt.Errorf("cannot write the test as JSON: %w", err)
	}
	out, err := json.Marshal(sealed{hashOf(body), body})
	if err != nil {
		return nil, fmt.Errorf("cannot write the test as JSON: %w", err)
	}
	return append(out, '\n'), nil
}

// Decode reads a file; a content that doesn't fit its hash is refused.
func Decode(data []byte) (*Record, error) {
	var s sealed
	if err := json.Unmarshal(data, &s); err != nil {
		return nil, fmt.Errorf("is no record of a test, or cut off: %w", err)
	}
	var body bytes.Buffer
	if err := json.Compact(&body, s.Record); err != nil {
		return nil, fmt.Errorf("is no record of a test: %w", err)
	}
	if hashOf(body.Bytes()) != s.Hash {
		return nil, fmt.Errorf("its content doesn't fit its hash: it was changed or damaged")
	}
	var r Record
	if err := json.Unmarshal(body.Bytes(), &r); err != nil {
		return nil, fmt.Errorf("is no record of a test: %w", err)
	}
	if r.Version != recordVersion {
		return nil, fmt.Errorf("is of version %d and this program reads %d", r.Version, recordVersion)
	}
	return &r, nil
}

// Hash is the SHA-256 over the record's content, in hex.
func (r *Record) Hash() string {
	body, err := json.Marshal(r)
	if err != nil {
		return ""
	}
	return hashOf(body)
}

func hashOf(body []byte) string {
	sum := sha256.Sum256(body)
	return hex.EncodeToString(sum[:])
}
