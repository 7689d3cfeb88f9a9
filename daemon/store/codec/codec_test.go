package codec_test

import (
	"encoding/binary"
	"encoding/hex"
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/daemon/store/codec"
	"headroom/daemon/store/seriestest"
	"headroom/rules/frame"
)

// same compares frames by their bits, so that a NaN equals itself and a
// negative zero isn't a zero.
func same(a, b *frame.Frame) bool {
	for ch := range a.Samples {
		x, y := a.Samples[ch], b.Samples[ch]
		if x.Status != y.Status || math.Float64bits(x.Value) != math.Float64bits(y.Value) {
			return false
		}
	}
	return true
}

// roundTrip encodes and decodes, and requires the same bits.
func roundTrip(t require.TestingT, e *codec.Encoder, ts, walls []int64, fs []frame.Frame) []byte {
	var c, back codec.Columns
	for i := range fs {
		c.Append(ts[i], walls[i], &fs[i])
	}
	b, err := e.Append(nil, &c)
	require.NoError(t, err)
	k, err := codec.Open(b)
	require.NoError(t, err)
	require.Equal(t, len(fs), k.Len())
	require.NoError(t, k.Columns(&back))
	require.Equal(t, len(fs), back.Len())
	for i := range fs {
		var f frame.Frame
		back.Frame(i, &f)
		if back.T[i] != ts[i] || back.Wall[i] != walls[i] || !same(&f, &fs[i]) {
			require.Failf(t, "differs", "frame %d: %d %d %v, want %d %d %v", i, back.T[i], back.Wall[i], f, ts[i], walls[i], fs[i])
		}
	}
	return b
}

// series draws a channel: noise on a grid with a calibration, held values,
// anything at all, and the ends of a range among them.
func series(t *rapid.T, n int) []float64 {
	kind := rapid.SampledFrom([]string{"any", "grid", "affine", "held", "few", "constant"}).Draw(t, "kind")
	step := rapid.SampledFrom([]float64{1, 0.1, 0.001, 1e6 / 26214.0, 1.0 / 3, 1e-9, 5e-324, 2.5e300}).Draw(t, "step")
	offset := rapid.SampledFrom([]float64{0, 273.15, -1e5, 1e-7, math.Pi}).Draw(t, "offset")
	strange := rapid.SampledFrom([]float64{0, math.Copysign(0, -1), math.NaN(), math.Inf(1), -1e5, math.Float64frombits(0x7ff8dead00000001)})
	spread := rapid.Int64Range(0, 1<<20).Draw(t, "spread")
	out := make([]float64, n)
	last := 0.0
	for i := range out {
		k := float64(rapid.Int64Range(-spread, spread).Draw(t, "k"))
		switch kind {
		case "any":
			out[i] = math.Float64frombits(rapid.Uint64().Draw(t, "bits"))
		case "grid":
			out[i] = k * step
		case "affine":
			out[i] = float64(k*step) + offset
		case "held":
			if i == 0 || rapid.IntRange(0, 9).Draw(t, "new") == 0 {
				last = float64(k*step) + offset
			}
			out[i] = last
		case "few":
			out[i] = math.Sqrt(float64(int64(k) & 3))
		case "constant":
			out[i] = offset
		}
		if kind != "constant" && rapid.IntRange(0, 19).Draw(t, "odd") == 0 {
			out[i] = strange.Draw(t, "strange")
		}
	}
	return out
}

func times(t *rapid.T, n int) []int64 {
	if rapid.Bool().Draw(t, "wild times") {
		return rapid.SliceOfN(rapid.Int64(), n, n).Draw(t, "times")
	}
	out := make([]int64, n)
	at := rapid.Int64Range(-1e18, 1e18).Draw(t, "start")
	unit := rapid.SampledFrom([]int64{1, 1000, 100_000_000}).Draw(t, "unit")
	for i := range out {
		out[i] = at
		at += unit * rapid.Int64Range(0, 5).Draw(t, "step")
	}
	return out
}

// TestAnythingComesBackBitForBit needs no source: what goes in is what is
// wanted.
func TestAnythingComesBackBitForBit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var e codec.Encoder
		for range rapid.IntRange(1, 3).Draw(t, "blocks") {
			n := rapid.IntRange(0, 60).Draw(t, "n")
			fs := make([]frame.Frame, n)
			for _, ch := range rapid.SliceOfNDistinct(rapid.IntRange(0, int(frame.NumChannels)-1), 0, 4, rapid.ID).Draw(t, "channels") {
				from := rapid.IntRange(0, n).Draw(t, "from")
				status := frame.Good
				for i, v := range series(t, n)[from:] {
					if rapid.IntRange(0, 9).Draw(t, "change") == 0 {
						status = frame.Status(rapid.Byte().Draw(t, "status"))
					}
					fs[from+i].Samples[ch] = frame.Sample{Value: v, Status: status}
				}
			}
			roundTrip(t, &e, times(t, n), times(t, n), fs)
		}
	})
}

func FuzzRoundTrip(f *testing.F) {
	f.Add([]byte("1234567890123456789012345"), byte(2))
	f.Add(make([]byte, 400), byte(0))
	f.Add([]byte{0, 0, 0, 0, 0, 0, 0xf0, 0x7f, 1, 1, 0, 0, 0, 0, 0, 0, 0x80, 1}, byte(16))
	f.Fuzz(func(t *testing.T, data []byte, ch byte) {
		var fs []frame.Frame
		var ts, walls []int64
		for ; len(data) >= 9; data = data[9:] {
			u := binary.LittleEndian.Uint64(data)
			var one frame.Frame
			one.Samples[ch%byte(frame.NumChannels)] = frame.Sample{Value: math.Float64frombits(u), Status: frame.Status(data[8])}
			fs, ts, walls = append(fs, one), append(ts, int64(u)), append(walls, int64(u>>13))
		}
		roundTrip(t, &codec.Encoder{}, ts, walls, fs)
	})
}

// FuzzOpen feeds anything, with a right checksum too, and wants an error or a
// block that can be read; never a panic.
func FuzzOpen(f *testing.F) {
	f.Add(demoBlock(f, 40), false)
	f.Add([]byte{1, 0, 0, 2, 0, 0}, true)
	f.Add([]byte{1, 0xff, 0xff, 0x07, 0, 2, 0, 0}, true)
	f.Fuzz(func(t *testing.T, b []byte, sum bool) {
		if sum {
			b = binary.LittleEndian.AppendUint32(b[:len(b):len(b)], codec.Sum(b))
		}
		k, err := codec.Open(b)
		if err != nil {
			return
		}
		var c codec.Columns
		if err := k.Columns(&c); err != nil {
			require.ErrorIs(t, err, codec.ErrDamaged)
			return
		}
		require.Equal(t, k.Len(), c.Len())
		var f frame.Frame
		for i := range c.Len() {
			c.Frame(i, &f)
		}
	})
}

func demoBlock(t testing.TB, n int) []byte {
	var c codec.Columns
	for i, f := range seriestest.Demo(t, n) {
		c.Append(int64(i)*1e8, 17e17, &f)
	}
	b, err := new(codec.Encoder).Append(nil, &c)
	require.NoError(t, err)
	return b
}

func TestSeriesComeBack(t *testing.T) {
	for name, fs := range map[string][]frame.Frame{"demo": seriestest.Demo(t, 9000), "pump": seriestest.Pump(t, 9000)} {
		t.Run(name, func(t *testing.T) {
			var e codec.Encoder
			for _, n := range []int{1, 2, 3, 10, 600, 4000} {
				ts, walls := make([]int64, n), make([]int64, n)
				for i := range ts {
					ts[i], walls[i] = int64(i)*1e8+int64(i*7919%977), codec.NoWall
				}
				roundTrip(t, &e, ts, walls, fs[:n])
				fs = fs[n:]
			}
		})
	}
}

// TestOneChannelAlone reads a channel without the others.
func TestOneChannelAlone(t *testing.T) {
	fs := seriestest.Demo(t, 500)
	k, err := codec.Open(demoBlock(t, 500))
	require.NoError(t, err)
	var c codec.Columns
	require.NoError(t, k.Times(&c))
	require.NoError(t, k.Channel(frame.InletPressure, &c))
	require.Empty(t, c.Values[frame.Flow])
	for i := range fs {
		require.Equal(t, fs[i].Samples[frame.InletPressure], frame.Sample{Value: c.Values[frame.InletPressure][i], Status: frame.Status(c.Status[frame.InletPressure][i])})
	}
	require.NoError(t, k.Channel(frame.AirPressure, &c), "one that isn't fitted")
	require.Empty(t, c.Values[frame.AirPressure])
}

// TestDamageIsFound cuts a block at every byte and flips every bit.
func TestDamageIsFound(t *testing.T) {
	whole := demoBlock(t, 20)
	for n := range whole {
		_, err := codec.Open(whole[:n])
		require.ErrorIs(t, err, codec.ErrDamaged)
	}
	for i := range whole {
		for bit := range 8 {
			whole[i] ^= 1 << bit
			_, err := codec.Open(whole)
			require.ErrorIs(t, err, codec.ErrDamaged)
			whole[i] ^= 1 << bit
		}
	}
	_, err := codec.Open(whole)
	require.NoError(t, err)

	newer := append([]byte{2}, whole[1:len(whole)-4]...)
	_, err = codec.Open(binary.LittleEndian.AppendUint32(newer, codec.Sum(newer)))
	require.ErrorContains(t, err, "version 2")
	require.False(t, errors.Is(err, codec.ErrDamaged))
}

func TestTooManyFrames(t *testing.T) {
	var c codec.Columns
	c.T = make([]int64, codec.MaxFrames+1)
	c.Wall = make([]int64, codec.MaxFrames+1)
	_, err := new(codec.Encoder).Append(nil, &c)
	require.ErrorContains(t, err, "at most")
}

// TestTheFormatStands pins the bytes: records are kept for years, and amd64
// and arm64 must write the same.
func TestTheFormatStands(t *testing.T) {
	var c codec.Columns
	for i := range 12 {
		var f frame.Frame
		f.Set(frame.InletPressure, float64(float64(i*i%7)*0.1)+273.15)
		f.Set(frame.Flow, 1/float64(i+1))
		f.Set(frame.Running, float64(i/6))
		if i == 4 {
			f.Samples[frame.InletPressure] = frame.Sample{Value: math.Copysign(0, -1), Status: frame.Failed}
		}
		c.Append(int64(i)*1e8+5, 1_790_000_000_000_000_000, &f)
	}
	b, err := new(codec.Encoder).Append(nil, &c)
	require.NoError(t, err)
	require.Equal(t, golden, hex.EncodeToString(b))
}
