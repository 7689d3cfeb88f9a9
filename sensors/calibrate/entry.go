package calibrate

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
)

// line is one line of a file: a calibration, the hash over it and over the
// hash of the line before, so that a changed line and a missing one both show.
// It is no signature: it finds damage, not forgery, and not the loss of whole
// lines at the end, which replacing the file in one step rules out.
type line struct {
	Prev  string          `json:"prev"`
	Hash  string          `json:"hash"`
	Entry json.RawMessage `json:"entry"`
}

// Damage is a file of calibrations with lines that are no longer what was
// written.
type Damage struct {
	// File is its path.
	File string
	// Whole is how many calibrations are whole, before and after the damage.
	Whole int
	// Lines says what is wrong, for each bad line.
	Lines []BadLine
}

// BadLine is one line that can't be believed.
type BadLine struct {
	// Number counts from 1.
	Number int
	// Why in words.
	Why string
}

// Error says which lines are damaged and how to go on.
func (d *Damage) Error() string {
	var why []string
	for _, l := range d.Lines {
		why = append(why, fmt.Sprintf("line %d: %s", l.Number, l.Why))
	}
	return fmt.Sprintf("%s is damaged (%s); %d other calibrations in it are whole: repair it, which puts the damaged file aside, and calibrate anew if the newest is lost",
		d.File, strings.Join(why, "; "), d.Whole)
}

func digest(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

func hashOf(prev string, entry []byte) string {
	return digest(append([]byte(prev+"\n"), entry...))
}

// appendEntry adds a line to a file's whole content.
func appendEntry(data []byte, c Calibration) ([]byte, error) {
	entry, err := json.Marshal(c)
	if err != nil {
		return nil, fmt.Errorf("cannot write the calibration as JSON: %w", err)
	}
	prev := lastHash(data)
	text, err := json.Marshal(line{Prev: prev, Hash: hashOf(prev, entry), Entry: entry})
	if err != nil {
		return nil, fmt.Errorf("cannot write the calibration as JSON: %w", err)
	}
	out := append(bytes.Clone(data), text...)
	return append(out, '\n'), nil
}

// lastHash is the hash of the last line of a whole file; "" of an empty one.
func lastHash(data []byte) string {
	rows := bytes.Split(bytes.TrimSuffix(data, []byte("\n")), []byte("\n"))
	var l line
	if json.Unmarshal(rows[len(rows)-1], &l) != nil {
		return ""
	}
	return l.Hash
}

// decode reads a file: all whole calibrations, and the lines that aren't.
func decode(data []byte, channel string) (all []Calibration, bad []BadLine) {
	if len(data) == 0 {
		return nil, nil
	}
	text, whole := bytes.CutSuffix(data, []byte("\n"))
	prev, known := "", true
	for i, row := range bytes.Split(text, []byte("\n")) {
		l, c, why := decodeLine(row, channel)
		if why == "" && known && l.Prev != prev {
			// The line itself is whole and counts; what stood before it isn't.
			bad = append(bad, BadLine{i + 1, "a line before it is missing or changed"})
		}
		if why != "" {
			bad = append(bad, BadLine{i + 1, why})
			known = false // the next line tells by its own hash
			continue
		}
		prev, known = l.Hash, true
		all = append(all, c)
	}
	if !whole && len(bad) == 0 {
		bad = append(bad, BadLine{len(all), "the end of the line is missing"})
	}
	return all, bad
}

func decodeLine(row []byte, channel string) (l line, c Calibration, why string) {
	if err := json.Unmarshal(row, &l); err != nil {
		return l, c, "is no JSON, perhaps cut off"
	}
	if again, err := json.Marshal(l); err != nil || !bytes.Equal(again, row) {
		return l, c, "is not as it was written"
	}
	if hashOf(l.Prev, l.Entry) != l.Hash {
		return l, c, "its content doesn't fit its hash"
	}
	if err := json.Unmarshal(l.Entry, &c); err != nil {
		return l, c, "is no calibration: " + err.Error()
	}
	if err := c.Validate(); err != nil {
		return l, c, err.Error()
	}
	if c.Channel != channel {
		return l, c, "is a calibration of " + c.Channel
	}
	return l, c, ""
}
