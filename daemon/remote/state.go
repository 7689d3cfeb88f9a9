package remote

import (
	"bytes"
	"compress/flate"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"headroom/daemon/store"
	"headroom/daemon/wholefile"
)

// state is what survives a restart: how far the record was sent, and the batch
// that is on its way.
type state struct {
	// Record is the record's name: another one begins anew.
	Record string `json:"record"`
	// At is what was acknowledged.
	At place `json:"at"`
	// Pending is a batch that was perhaps sent, and After where the record
	// stands once it is acknowledged.
	Pending []byte `json:"pending,omitempty"`
	After   *place `json:"after,omitempty"`
	// Wide is the index of the batch's width.
	Wide int `json:"wide,omitempty"`
	// Spent is what the day has cost so far.
	Spent spent `json:"spent"`
	// Counts are since sending to this store began.
	Counts Counts `json:"counts"`
}

// Counts add up what became of the record's minutes and samples.
type Counts struct {
	// Sent samples that the store took, Refused ones that it will never take,
	// Known ones that it had already from an attempt whose answer was lost.
	Sent, Refused, Known uint64
	// Minutes of the record that were sent, Bare those of them without
	// readings, as the budget had no room.
	Minutes, Bare uint64
	// BytesOut and BytesIn on the wire, from the connection's point of view.
	BytesOut, BytesIn uint64
}

// stateFile is the position for one store. The name is made of a hash of its
// address: addresses may hold secrets.
func stateFile(folder, addr string) string {
	sum := sha256.Sum256([]byte(addr))
	return filepath.Join(folder, "remote-"+hex.EncodeToString(sum[:6])+".json")
}

// load reads the position; a missing file is an empty one. A damaged file is
// put aside, and sending begins at the present boot.
func load(path string) (s state, err error) {
	text, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return s, nil
	}
	if err != nil {
		return s, fmt.Errorf("cannot read how far the record was sent: %w", err)
	}
	if err := json.Unmarshal(text, &s); err != nil {
		return state{}, errors.Join(fmt.Errorf("the file of how far the record was sent is damaged and put aside as %s.bad: %w", path, err), os.Rename(path, path+".bad"))
	}
	return s, nil
}

func (s *state) save(path string) error {
	text, err := json.Marshal(s)
	if err == nil {
		err = wholefile.Write(path, text)
	}
	if err != nil {
		return fmt.Errorf("cannot keep how far the record was sent: %w", err)
	}
	return nil
}

// begin makes the first position: the present boot, with the counters of all
// the boots before it.
func (s *state) begin(ctx context.Context, r Record, name string) error {
	old := s.At
	s.Record, s.Pending, s.After = name, nil, nil
	s.At = place{Boot: r.Boot(), Stamp: old.Stamp, Base: copySums(&old.Base)}
	s.At.Base.Add(&old.Here)
	if old.Boot != 0 {
		return nil // the counters of a store go on where they were
	}
	life, err := r.Life(ctx)
	s.At.Base = life
	return err
}

// pack makes the batch small for the disk.
func pack(all []series) ([]byte, error) {
	var b bytes.Buffer
	w, err := flate.NewWriter(&b, flate.BestSpeed)
	if err == nil {
		_, err = w.Write(encodeV1(all))
	}
	if err == nil {
		err = w.Close()
	}
	return b.Bytes(), err
}

// maxMessage bounds what a damaged file can unpack to.
const maxMessage = 16 << 20

func unpack(data []byte) ([]series, error) {
	raw, err := io.ReadAll(io.LimitReader(flate.NewReader(bytes.NewReader(data)), maxMessage))
	if err != nil {
		return nil, fmt.Errorf("cannot read the batch on its way: %w", err)
	}
	return decodeV1(raw)
}

// copySums is a copy that shares no map.
func copySums(s *store.Sums) (out store.Sums) {
	out.Add(s)
	return out
}
