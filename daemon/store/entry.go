package store

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"headroom/daemon/store/codec"
)

// The kinds of entries in a record of the tail: a byte, the length as a
// uvarint, and that many bytes.
const (
	entryFrames = 1 + iota // a block of package codec
	entryEvent             // JSON of Event
	entryAct               // JSON of Act
	entryClock             // JSON of Observation
	entryState             // JSON of state
	entryDigest            // VerdictDigest over what is not sealed yet
)

// state is what can't be had from frames and events alone. It is written when
// a run begins or ends and twice a minute in between.
type state struct {
	T    time.Duration `json:"t"`
	Runs []runRow      `json:"runs,omitempty"`
	Sums Sums          `json:"sums,omitzero"`
}

// fresh is what was appended and is not yet safe.
type fresh struct {
	frames codec.Columns
	events []Event
	acts   []Act
	clock  []Observation
	state  *state
	digest *VerdictDigest
}

func (f *fresh) empty() bool {
	return f.frames.Len() == 0 && !f.urgent() && len(f.clock) == 0 && f.state == nil
}

// urgent reports whether something waits that must not wait.
func (f *fresh) urgent() bool { return len(f.events)+len(f.acts) > 0 }

func (f *fresh) reset() {
	f.frames.Reset()
	f.events, f.acts, f.clock, f.state, f.digest = f.events[:0], f.acts[:0], f.clock[:0], nil, nil
}

// pack makes the payload of a record. The frames come first, as the cause.
func (f *fresh) pack(enc *codec.Encoder) (payload []byte, err error) {
	if f.frames.Len() > 0 {
		block, err := enc.Append(nil, &f.frames)
		if err != nil {
			return nil, err
		}
		payload = appendEntry(payload, entryFrames, block)
	}
	if f.digest != nil {
		payload = appendEntry(payload, entryDigest, f.digest.append(nil))
	}
	for i := range f.events {
		payload, err = appendJSON(payload, err, entryEvent, &f.events[i])
	}
	for i := range f.acts {
		payload, err = appendJSON(payload, err, entryAct, &f.acts[i])
	}
	for i := range f.clock {
		payload, err = appendJSON(payload, err, entryClock, &f.clock[i])
	}
	if f.state != nil {
		payload, err = appendJSON(payload, err, entryState, f.state)
	}
	return payload, err
}

func appendEntry(dst []byte, kind byte, body []byte) []byte {
	dst = binary.AppendUvarint(append(dst, kind), uint64(len(body)))
	return append(dst, body...)
}

func appendJSON(dst []byte, err error, kind byte, v any) ([]byte, error) {
	if err != nil {
		return dst, err
	}
	body, err := json.Marshal(v)
	if err != nil {
		return dst, fmt.Errorf("cannot write down %T: %w", v, err)
	}
	return appendEntry(dst, kind, body), nil
}

// batch is the content of records of one boot, on its way to the database.
type batch struct {
	boot   uint64
	blocks [][]byte
	events []Event
	acts   []Act
	clock  []Observation
	state  *state
	// digests of verdicts, the newest of each that begins with the same frame.
	digests []VerdictDigest
}

var errEntry = errors.New("an entry of the last minutes can't be read")

// add takes a payload apart. Entries of a kind that is not known are passed
// over; what can't be read doesn't hide the rest.
func (b *batch) add(payload []byte) (err error) {
	for len(payload) > 0 {
		kind := payload[0]
		n, used := binary.Uvarint(payload[1:])
		if used <= 0 || n > uint64(len(payload)-1-used) {
			return errors.Join(err, errEntry)
		}
		body := payload[1+used : 1+used+int(n)]
		payload = payload[1+used+int(n):]
		if e := b.entry(kind, body); e != nil {
			err = errors.Join(err, fmt.Errorf("%w: %w", errEntry, e))
		}
	}
	return err
}

func (b *batch) entry(kind byte, body []byte) error {
	switch kind {
	case entryFrames:
		b.blocks = append(b.blocks, body)
	case entryEvent:
		return appendFrom(&b.events, body)
	case entryAct:
		return appendFrom(&b.acts, body)
	case entryClock:
		return appendFrom(&b.clock, body)
	case entryDigest:
		d, err := readDigest(body)
		if err != nil {
			return err
		}
		b.digests = addDigest(b.digests, d)
	case entryState:
		var s state
		if err := json.Unmarshal(body, &s); err != nil {
			return err
		}
		b.takeState(&s)
	}
	return nil
}

// takeState keeps the newest state, and each run as it was told last.
func (b *batch) takeState(s *state) {
	if b.state == nil {
		b.state = s
		return
	}
	rows := b.state.Runs
	for _, row := range s.Runs {
		if n := len(rows); n > 0 && rows[n-1].N == row.N {
			rows[n-1] = row
		} else if n == 0 || rows[n-1].N < row.N {
			rows = append(rows, row)
		}
	}
	*b.state = state{T: s.T, Runs: rows, Sums: s.Sums}
}

func appendFrom[T any](list *[]T, body []byte) error {
	var v T
	if err := json.Unmarshal(body, &v); err != nil {
		return err
	}
	*list = append(*list, v)
	return nil
}
