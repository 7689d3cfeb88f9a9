package tail

import (
	"encoding/binary"
	"hash/crc32"
	"slices"
)

const (
	magic      = 0x31745248 // "HRt1"
	headBytes  = 32
	sector     = 512
	maxPayload = 1 << 22
)

// Record is one that was found whole.
type Record struct {
	Seq, Boot uint64
	Payload   []byte

	place span
}

// span is a part of the file.
type span struct{ from, to int64 }

func (a span) meets(b span) bool { return a.from < b.to && b.from < a.to }

func sum(b []byte) uint32 { return crc32.Checksum(b, crc32.MakeTable(crc32.Castagnoli)) }

// put writes the record into room, which begins with zeros beyond it.
func put(room []byte, seq, boot uint64, at int64, payload []byte) {
	binary.LittleEndian.PutUint32(room[0:], magic)
	binary.LittleEndian.PutUint64(room[8:], seq)
	binary.LittleEndian.PutUint64(room[16:], boot)
	binary.LittleEndian.PutUint32(room[24:], uint32(len(payload)))
	binary.LittleEndian.PutUint32(room[28:], uint32(at/sector))
	n := headBytes + copy(room[headBytes:], payload)
	clear(room[n:])
	binary.LittleEndian.PutUint32(room[4:], sum(room[8:n]))
}

// get reads the record at a place of the file's content; ok is false where
// none is, or not a whole one.
func get(content []byte, at int64) (r Record, ok bool) {
	b := content[at:]
	if len(b) < headBytes || binary.LittleEndian.Uint32(b) != magic {
		return Record{}, false
	}
	n := int64(binary.LittleEndian.Uint32(b[24:]))
	if n > maxPayload || n > int64(len(b))-headBytes || int64(binary.LittleEndian.Uint32(b[28:])) != at/sector {
		return Record{}, false
	}
	if sum(b[8:headBytes+n]) != binary.LittleEndian.Uint32(b[4:]) {
		return Record{}, false
	}
	return Record{
		Seq: binary.LittleEndian.Uint64(b[8:]), Boot: binary.LittleEndian.Uint64(b[16:]),
		Payload: slices.Clone(b[headBytes : headBytes+n]), place: span{at, at + roundUp(headBytes+n, sector)},
	}, true
}

func roundUp(n, unit int64) int64 { return (n + unit - 1) / unit * unit }

// find returns all whole records in the order of their sequence. torn counts
// beginnings of records that are not whole; most are older ones that were
// written over.
func find(content []byte) (all []Record, torn int) {
	for at := int64(0); at+headBytes <= int64(len(content)); {
		r, ok := get(content, at)
		if ok {
			all = append(all, r)
			at = r.place.to
			continue
		}
		if binary.LittleEndian.Uint32(content[at:]) == magic {
			torn++
		}
		at += sector
	}
	slices.SortStableFunc(all, func(a, b Record) int {
		switch {
		case a.Seq < b.Seq:
			return -1
		case a.Seq > b.Seq:
			return 1
		}
		return 0
	})
	return all, torn
}
