package store

import "encoding/json"

// Readings says what gave the readings of a boot.
type Readings string

// The kinds of readings. Their texts stand in records and exports.
const (
	// NotTold: an earlier version recorded it, or a foreign file was imported.
	NotTold Readings = ""
	// FromSensors: the sensors of the machine that is named.
	FromSensors Readings = "sensors"
	// FromSimulator: an invented machine.
	FromSimulator Readings = "simulator"
	// FromPlayback: a recording that was played as if it were live.
	FromPlayback Readings = "playback"
)

// Practice reports whether no pump lived through it when it was recorded, so
// that it counts for no machine's life.
func (r Readings) Practice() bool { return r == FromSimulator || r == FromPlayback }

// Source is where a boot comes from.
type Source struct {
	// Name and SHA256 are those of the file that it was imported from: the
	// name without its folders, and the hash of all its bytes in hexadecimal
	// digits. Empty for what was recorded here.
	Name   string `json:"name,omitempty"`
	SHA256 string `json:"sha256,omitempty"`
	// Readings is what gave them.
	Readings Readings `json:"readings,omitempty"`
}

// Imported reports whether it was recorded elsewhere.
func (s Source) Imported() bool { return s.Name != "" || s.SHA256 != "" }

// Counts reports whether it is a part of this machine's life.
func (s Source) Counts() bool { return !s.Imported() && !s.Readings.Practice() }

// Short is the source in a word or two, for lists.
func (s Source) Short() string {
	word := map[Readings]string{NotTold: "not told", FromSensors: "sensors", FromSimulator: "SIMULATED", FromPlayback: "PLAYED BACK"}[s.Readings]
	if word == "" {
		word = string(s.Readings) // of a newer program
	}
	switch {
	case s.Imported() && s.Readings == NotTold:
		return "imported"
	case s.Imported():
		return word + ", imported"
	}
	return word
}

// Band is what every page and sheet must say of the source across its whole
// width; empty for readings of this machine's own sensors.
func (s Source) Band() string {
	from := ""
	if s.Imported() {
		from = " Imported from " + s.Name + "."
	}
	switch s.Readings {
	case FromSimulator:
		return "SIMULATED – practice only. An invented machine gave these readings; no pump lived through this." + from
	case FromPlayback:
		return "PLAYED BACK – practice only. A recording gave these readings; the machine named here did not live through this then." + from
	}
	if s.Imported() {
		return "IMPORTED from " + s.Name + ". This was recorded elsewhere; the record can't tell what gave the readings, nor whether they were changed before."
	}
	return ""
}

// text is the source as it stands in the database.
func (s Source) text() (string, error) {
	if s == (Source{}) {
		return "", nil
	}
	b, err := json.Marshal(s)
	return string(b), err
}

// sourceOf reads what text wrote.
func sourceOf(text string) (s Source) {
	if text != "" && json.Unmarshal([]byte(text), &s) != nil {
		s = Source{Name: text} // damaged, and imported all the same
	}
	return s
}
