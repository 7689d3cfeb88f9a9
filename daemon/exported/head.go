package exported

import (
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"headroom/daemon/store"
	"headroom/sensors/csvfile"
)

// LeadIn says whether what came before a run is in its file.
type LeadIn string

// The kinds of lead-in.
const (
	// Whole: a replay gives the verdicts of then to the last bit.
	Whole LeadIn = "whole"
	// Damaged: some of it, or of the run, is thinned away or damaged.
	Damaged LeadIn = "damaged"
	// None: only the run is here; the engine would begin without memory.
	None LeadIn = "none"
)

// Head is all that a file says besides its rows.
type Head struct {
	// Info of the boot, its config's text and how its alarms stood.
	Info store.Info
	// Run is what was exported, number 0 for a whole boot; From and To are its
	// first and last moment.
	Run      store.RunID
	From, To time.Duration
	LeadIn   LeadIn
	// Lost are spans whose frames are not in the file.
	Lost []store.LostError
	// Acts of the whole boot up to the end, and Events of what was exported.
	Acts   []store.Act
	Events []store.Event
	// Chain is where the record vouches for it: empty where it doesn't yet.
	Chain string
}

const configLine = "config_text"

// notes are the head as lines of a CSV recording.
func (h *Head) notes() ([]csvfile.Note, error) {
	var n notes
	if band := h.Info.Source.Band(); band != "" {
		n.add("readings", band)
	}
	if h.Run.N > 0 {
		n.add("run", h.Run.String())
	}
	n.add("from_ns", strconv.FormatInt(int64(h.From), 10))
	n.add("to_ns", strconv.FormatInt(int64(h.To), 10))
	n.add("lead_in", string(h.LeadIn))
	if !h.Info.StartWall.IsZero() {
		n.add("start_wall", h.Info.StartWall.UTC().Format(time.RFC3339Nano))
	}
	if h.Info.Source != (store.Source{}) {
		n.json("source", h.Info.Source)
	}
	if h.Chain != "" {
		n.add("chain", h.Chain)
	}
	if len(h.Info.Kept) > 0 {
		n.json("kept", string(h.Info.Kept))
	}
	for i := range h.Lost {
		n.json("lost", &h.Lost[i])
	}
	for i := range h.Acts {
		n.json("act", &h.Acts[i])
	}
	for i := range h.Events {
		n.json("event", &h.Events[i])
	}
	for line := range strings.Lines(string(h.Info.ConfigText)) {
		n.json(configLine, line)
	}
	return n.list, n.err
}

// notes gathers lines.
type notes struct {
	list []csvfile.Note
	err  error
}

func (n *notes) add(key, text string) { n.list = append(n.list, csvfile.Note{Key: key, Text: text}) }

func (n *notes) json(key string, v any) {
	text, err := json.Marshal(v)
	n.err = errors.Join(n.err, err)
	n.add(key, string(text))
}

// about is the head of a CSV recording.
func (h *Head) about() (csvfile.About, error) {
	list, err := h.notes()
	if err != nil {
		return csvfile.About{}, fmt.Errorf("cannot write the head of the export: %w", err)
	}
	i := &h.Info
	return csvfile.About{Software: i.Software, Config: i.ConfigHash, Machine: i.Machine, Boot: i.Boot, Notes: list}, nil
}

// headOf reads the head of a CSV recording. Lines it doesn't know are passed
// over; a recording without any is a whole boot of which no more is known.
func headOf(a csvfile.About) (h Head, err error) {
	h.Info = store.Info{Software: a.Software, ConfigHash: a.Config, Machine: a.Machine, Boot: a.Boot}
	h.Run.Boot = a.Boot
	for _, n := range a.Notes {
		if e := h.take(n.Key, n.Text); e != nil {
			return h, fmt.Errorf("the line %q of its head can't be read: %w", n.Key, e)
		}
	}
	return h, nil
}

func (h *Head) take(key, text string) (err error) {
	switch key {
	case "run":
		h.Run, err = store.ParseRunID(text)
	case "from_ns":
		h.From, err = parseNs(text)
	case "to_ns":
		h.To, err = parseNs(text)
	case "lead_in":
		h.LeadIn = LeadIn(text)
	case "start_wall":
		h.Info.StartWall, err = time.Parse(time.RFC3339Nano, text)
	case "source":
		err = json.Unmarshal([]byte(text), &h.Info.Source)
	case "chain":
		h.Chain = text
	case "kept":
		var kept string
		err = json.Unmarshal([]byte(text), &kept)
		h.Info.Kept = []byte(kept)
	case configLine:
		var line string
		err = json.Unmarshal([]byte(text), &line)
		h.Info.ConfigText = append(h.Info.ConfigText, line...)
	case "lost":
		h.Lost, err = appendJSON(h.Lost, text)
	case "act":
		h.Acts, err = appendJSON(h.Acts, text)
	case "event":
		h.Events, err = appendJSON(h.Events, text)
	}
	return err
}

func parseNs(text string) (time.Duration, error) {
	ns, err := strconv.ParseInt(text, 10, 64)
	return time.Duration(ns), err
}

func appendJSON[T any](list []T, text string) ([]T, error) {
	var v T
	if err := json.Unmarshal([]byte(text), &v); err != nil {
		return list, err
	}
	return append(list, v), nil
}
