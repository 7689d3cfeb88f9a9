package gpiochip

import (
	"encoding/binary"
	"fmt"
	"time"
)

// The structures below are those of linux/gpio.h. The header fills every gap
// explicitly, so they have one layout on 32 and 64 bits; the union of an
// attribute is kept as bytes, which is right on both byte orders too.
const (
	nameSize  = 32
	maxLines  = 64
	maxAttrs  = 10
	eventSize = 48
)

// Flags of a line (enum gpio_v2_line_flag).
const (
	flagUsed       = 1 << 0
	flagActiveLow  = 1 << 1
	flagInput      = 1 << 2
	flagOutput     = 1 << 3
	flagRising     = 1 << 4
	flagFalling    = 1 << 5
	flagPullUp     = 1 << 8
	flagPullDown   = 1 << 9
	flagBiasOff    = 1 << 10
	attrOutputs    = 2
	attrDebounce   = 3
	eventIsRising  = 1
	eventIsFalling = 2
)

// chipInfo is struct gpiochip_info.
type chipInfo struct {
	name, label [nameSize]byte
	lines       uint32
}

// lineAttribute is struct gpio_v2_line_attribute.
type lineAttribute struct {
	id, padding uint32
	union       [8]byte
}

// configAttribute is struct gpio_v2_line_config_attribute.
type configAttribute struct {
	attr lineAttribute
	mask uint64
}

// lineConfig is struct gpio_v2_line_config.
type lineConfig struct {
	flags    uint64
	numAttrs uint32
	padding  [5]uint32
	attrs    [maxAttrs]configAttribute
}

// lineRequest is struct gpio_v2_line_request.
type lineRequest struct {
	offsets   [maxLines]uint32
	consumer  [nameSize]byte
	config    lineConfig
	numLines  uint32
	eventSize uint32
	padding   [5]uint32
	fd        int32
}

// lineInfo is struct gpio_v2_line_info.
type lineInfo struct {
	name, consumer   [nameSize]byte
	offset, numAttrs uint32
	flags            uint64
	attrs            [maxAttrs]lineAttribute
	padding          [4]uint32
}

// lineValues is struct gpio_v2_line_values.
type lineValues struct{ bits, mask uint64 }

func (r InputRequest) kernel(offset uint32) lineRequest {
	k := newRequest(offset, r.Consumer, r.ActiveLow)
	k.config.flags |= flagInput
	if r.Edges == Rising || r.Edges == BothEdges {
		k.config.flags |= flagRising
	}
	if r.Edges == Falling || r.Edges == BothEdges {
		k.config.flags |= flagFalling
	}
	switch r.Bias {
	case BiasOff:
		k.config.flags |= flagBiasOff
	case PullUp:
		k.config.flags |= flagPullUp
	case PullDown:
		k.config.flags |= flagPullDown
	}
	if us := r.Debounce.Microseconds(); us > 0 {
		var v [8]byte
		binary.NativeEndian.PutUint32(v[:], uint32(us))
		k.attribute(attrDebounce, v)
	}
	k.eventSize = uint32(r.Buffer)
	return k
}

func (r OutputRequest) kernel(offset uint32) lineRequest {
	k := newRequest(offset, r.Consumer, r.ActiveLow)
	k.config.flags |= flagOutput
	var v [8]byte
	if r.Initial {
		binary.NativeEndian.PutUint64(v[:], 1)
	}
	k.attribute(attrOutputs, v)
	return k
}

func newRequest(offset uint32, consumer string, activeLow bool) (k lineRequest) {
	k.offsets[0], k.numLines = offset, 1
	copy(k.consumer[:nameSize-1], consumer) // the kernel wants a zero at the end
	if activeLow {
		k.config.flags = flagActiveLow
	}
	return k
}

func (k *lineRequest) attribute(id uint32, value [8]byte) {
	k.config.attrs[k.config.numAttrs] = configAttribute{attr: lineAttribute{id: id, union: value}, mask: 1}
	k.config.numAttrs++
}

// decodeEvents reads struct gpio_v2_line_event records, as many as stand in b
// and fit into dst.
func decodeEvents(dst []Event, b []byte) (int, error) {
	if len(b)%eventSize != 0 {
		return 0, fmt.Errorf("the kernel gave %d bytes, which is no whole number of %d-byte events", len(b), eventSize)
	}
	n := min(len(dst), len(b)/eventSize)
	for i := range n {
		e := b[i*eventSize:]
		id := binary.NativeEndian.Uint32(e[8:])
		if id != eventIsRising && id != eventIsFalling {
			return i, fmt.Errorf("the kernel gave an event of the unknown kind %d", id)
		}
		dst[i] = Event{
			At:      time.Duration(binary.NativeEndian.Uint64(e)),
			Rising:  id == eventIsRising,
			Seq:     binary.NativeEndian.Uint32(e[16:]),
			LineSeq: binary.NativeEndian.Uint32(e[20:]),
		}
	}
	return n, nil
}

// text returns the bytes before the first zero.
func text(b []byte) string {
	for i, c := range b {
		if c == 0 {
			return string(b[:i])
		}
	}
	return string(b)
}
