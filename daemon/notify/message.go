package notify

import (
	"encoding/json"
	"fmt"
	"math"
	"time"

	"headroom/rules/units"
)

// Version of the message's layout. It changes when a reader of the old one
// would misunderstand the new one.
const Version = 1

// message is the JSON that the package comment describes.
type message struct {
	Version      int        `json:"version"`
	ID           string     `json:"id"`
	Machine      string     `json:"machine"`
	Boot         uint64     `json:"boot"`
	Seq          uint64     `json:"seq"`
	Alarm        string     `json:"alarm"`
	State        string     `json:"state"`
	Level        string     `json:"level"`
	Title        string     `json:"title"`
	Cause        string     `json:"cause"`
	Consequence  string     `json:"consequence"`
	Action       string     `json:"action"`
	LooksLike    string     `json:"looks_like,omitempty"`
	Do           string     `json:"do,omitempty"`
	Value        *amount    `json:"value"`
	Limit        *amount    `json:"limit"`
	Sensor       string     `json:"sensor,omitempty"`
	MachineState string     `json:"machine_state"`
	FirstOut     bool       `json:"first_out"`
	OnsetMonoS   float64    `json:"onset_mono_s"`
	MonoS        float64    `json:"mono_s"`
	OnsetWall    *time.Time `json:"onset_wall"`
	Wall         *time.Time `json:"wall"`
	Clock        string     `json:"clock"`
	Coalesced    int        `json:"coalesced"`
	Dashboard    string     `json:"dashboard,omitempty"`
}

type amount struct {
	SI     float64 `json:"si"`
	Unit   string  `json:"si_unit"`
	Text   string  `json:"text"`
	TextSI string  `json:"text_si"`
}

// ID names the message: two with the same ID say the same.
func (n *Notification) ID() string { return fmt.Sprintf("%s-%d-%s", n.run, n.Seq, n.Alarm) }

// JSON returns the message that the package comment describes.
func (n *Notification) JSON() ([]byte, error) {
	m := message{
		Version: Version, ID: n.ID(), Machine: n.Machine, Boot: n.Boot, Seq: n.Seq,
		Alarm: n.Alarm.String(), State: n.State.String(), Level: n.Level.String(),
		Title: n.Words.Title, Cause: n.Words.Cause, Consequence: n.Words.Consequence, Action: n.Words.Action,
		LooksLike: n.LooksLike, Do: n.Do,
		Value: n.amount(n.Value), Limit: n.amount(n.Limit), Sensor: n.sensor(),
		MachineState: n.MachineState.String(), FirstOut: n.FirstOut,
		OnsetMonoS: n.OnsetMono.Seconds(), MonoS: n.Mono.Seconds(), OnsetWall: utc(n.OnsetWall), Wall: utc(n.Wall),
		Clock: n.Clock.String(), Coalesced: n.Coalesced, Dashboard: n.Dashboard,
	}
	out, err := json.Marshal(&m)
	if err != nil {
		return nil, fmt.Errorf("cannot write the notification of %s as JSON: %w", n.Alarm, err)
	}
	return out, nil
}

// amount returns nil for what isn't known: a number that isn't finite has no
// place in JSON, and none in a message either.
func (n *Notification) amount(a Amount) *amount {
	if !a.Known || math.IsNaN(a.SI) || math.IsInf(a.SI, 0) {
		return nil
	}
	return &amount{
		SI: a.SI, Unit: units.SISymbol(a.Quantity),
		Text: units.Format(a.Quantity, n.Units, a.SI), TextSI: units.Format(a.Quantity, units.SI, a.SI),
	}
}

// text returns an amount in the chosen units with SI behind it where that
// differs, empty for what isn't known.
func (n *Notification) text(a Amount) string {
	x := n.amount(a)
	switch {
	case x == nil:
		return ""
	case x.Text == x.TextSI:
		return x.Text
	}
	return x.Text + " (" + x.TextSI + ")"
}

// sensor returns the sensor's status, empty for a rule's alarm or one that was
// never raised.
func (n *Notification) sensor() string {
	if _, ok := n.Alarm.Channel(); !ok || n.State == NotRaised {
		return ""
	}
	return n.Sensor.String()
}

func utc(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	t = t.UTC()
	return &t
}
