package remote

import (
	"errors"
	"fmt"
	"math"

	"google.golang.org/protobuf/encoding/protowire"
)

// Field numbers of version 1 of the protocol. Source: Prometheus Remote-Write
// 1.0 specification, section "Protocol".
const (
	v1TimeSeries = 1 // of WriteRequest
	v1Labels     = 1 // of TimeSeries
	v1Samples    = 2
	v1Name       = 1 // of Label
	v1Value      = 2
	v1Number     = 1 // of Sample
	v1Time       = 2
)

// encodeV1 is the message prometheus.WriteRequest. The message is so small that
// a generated package for it would be more code than this.
func encodeV1(all []series) []byte {
	var dst, one, inner []byte
	for i := range all {
		s := &all[i]
		one = one[:0]
		for _, l := range s.labels {
			inner = protowire.AppendTag(inner[:0], v1Name, protowire.BytesType)
			inner = protowire.AppendString(inner, l.name)
			inner = protowire.AppendTag(inner, v1Value, protowire.BytesType)
			inner = protowire.AppendString(inner, l.value)
			one = protowire.AppendTag(one, v1Labels, protowire.BytesType)
			one = protowire.AppendBytes(one, inner)
		}
		for _, p := range s.samples {
			inner = protowire.AppendTag(inner[:0], v1Number, protowire.Fixed64Type)
			inner = protowire.AppendFixed64(inner, math.Float64bits(p.value))
			inner = protowire.AppendTag(inner, v1Time, protowire.VarintType)
			inner = protowire.AppendVarint(inner, uint64(p.ms))
			one = protowire.AppendTag(one, v1Samples, protowire.BytesType)
			one = protowire.AppendBytes(one, inner)
		}
		dst = protowire.AppendTag(dst, v1TimeSeries, protowire.BytesType)
		dst = protowire.AppendBytes(dst, one)
	}
	return dst
}

var errNoMessage = errors.New("it is no write request")

// decodeV1 reads what encodeV1 wrote, and passes over fields that it doesn't
// know. A batch waits on disk in this form.
func decodeV1(src []byte) (all []series, err error) {
	err = eachField(src, func(num protowire.Number, raw []byte, _ uint64) error {
		if num != v1TimeSeries {
			return nil
		}
		s, err := decodeSeries(raw)
		all = append(all, s)
		return err
	})
	return all, err
}

func decodeSeries(src []byte) (s series, err error) {
	err = eachField(src, func(num protowire.Number, raw []byte, _ uint64) error {
		switch num {
		case v1Labels:
			var l label
			err := eachField(raw, func(num protowire.Number, raw []byte, _ uint64) error {
				switch num {
				case v1Name:
					l.name = string(raw)
				case v1Value:
					l.value = string(raw)
				}
				return nil
			})
			s.labels = append(s.labels, l)
			return err
		case v1Samples:
			var p sample
			err := eachField(raw, func(num protowire.Number, _ []byte, n uint64) error {
				switch num {
				case v1Number:
					p.value = math.Float64frombits(n)
				case v1Time:
					p.ms = int64(n)
				}
				return nil
			})
			s.samples = append(s.samples, p)
			return err
		}
		return nil
	})
	return s, err
}

// eachField calls f for every field of a message: with its bytes, or with its
// number where it is one.
func eachField(src []byte, f func(num protowire.Number, raw []byte, n uint64) error) error {
	for len(src) > 0 {
		num, kind, n := protowire.ConsumeTag(src)
		if n < 0 {
			return fmt.Errorf("%w: %w", errNoMessage, protowire.ParseError(n))
		}
		src = src[n:]
		var raw []byte
		var number uint64
		switch kind {
		case protowire.BytesType:
			raw, n = protowire.ConsumeBytes(src)
		case protowire.Fixed64Type:
			number, n = protowire.ConsumeFixed64(src)
		case protowire.VarintType:
			number, n = protowire.ConsumeVarint(src)
		default:
			n = protowire.ConsumeFieldValue(num, kind, src)
		}
		if n < 0 {
			return fmt.Errorf("%w: %w", errNoMessage, protowire.ParseError(n))
		}
		if err := f(num, raw, number); err != nil {
			return err
		}
		src = src[n:]
	}
	return nil
}

// encoded is a message that is ready for the wire; the client's library asks
// for these two functions.
type encoded []byte

// Size is the length of the message.
func (e encoded) Size() int { return len(e) }

// MarshalToSizedBuffer copies the message to the end of dst.
func (e encoded) MarshalToSizedBuffer(dst []byte) (int, error) {
	return copy(dst[len(dst)-len(e):], e), nil
}
