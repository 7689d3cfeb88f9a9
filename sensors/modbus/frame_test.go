package modbus

import (
	"encoding/hex"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func unhex(t testing.TB, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(s)
	require.NoError(t, err)
	return b
}

func TestCRC16(t *testing.T) {
	for _, c := range []struct {
		data string
		wire string
		from string
	}{
		{"1103006b0003", "7687", "example of a request that many public Modbus texts print"},
		{"313233343536373839", "374b", "check value 4B37 of CRC-16/MODBUS over \"123456789\", published CRC catalogues"},
	} {
		got := withCRC(unhex(t, c.data))
		require.Equal(t, c.wire, hex.EncodeToString(got[len(got)-2:]), c.from)
		require.True(t, goodCRC(got))
		got[0] ^= 1
		require.False(t, goodCRC(got))
	}
	require.False(t, goodCRC(nil))
	require.False(t, goodCRC([]byte{0xff, 0xff}), "a checksum over nothing is no frame")
}

// Source: Modbus application protocol V1.1b3, section 6.3: function 3 of
// registers 108 to 110 (addresses 6B to 6D) with the values 022B, 0000, 0064.
// The unit number and the checksums are ours, the bytes between are the text's.
func TestTheStandardsExample(t *testing.T) {
	r := request{unit: 0x11, table: Holding, address: 0x6b, count: 3}
	require.Equal(t, "1103006b00037687", hex.EncodeToString(r.bytes()))
	v, data, _, _ := scan(r, withCRC(unhex(t, "110306022b00000064")))
	require.Equal(t, answered, v)
	require.Equal(t, "022b00000064", hex.EncodeToString(data))
	v, _, code, _ := scan(r, withCRC(unhex(t, "118302")))
	require.Equal(t, refused, v)
	require.EqualValues(t, 2, code)
	v, _, _, from := scan(r, withCRC(unhex(t, "120306022b00000064")))
	require.Equal(t, otherUnit, v)
	require.EqualValues(t, 0x12, from)
}

// Whatever stands before and after a good answer, it is found; and an echo of
// the request alone never is one.
func TestAnAnswerIsFoundAnywhere(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := request{
			unit: rapid.ByteRange(1, 247).Draw(rt, "unit"), table: Table(rapid.SampledFrom([]int{3, 4}).Draw(rt, "table")),
			address: rapid.Uint16().Draw(rt, "address"), count: rapid.Uint16Range(1, 2).Draw(rt, "count"),
		}
		if v, _, _, _ := scan(r, r.bytes()); v != nothingYet {
			rt.Fatalf("the echo is read as %d", v)
		}
		data := rapid.SliceOfN(rapid.Byte(), 2*int(r.count), 2*int(r.count)).Draw(rt, "data")
		answer := withCRC(append([]byte{r.unit, byte(r.table), byte(2 * r.count)}, data...))
		before := rapid.SliceOfN(rapid.Byte(), 0, 12).Draw(rt, "before")
		if rapid.Bool().Draw(rt, "echo") {
			before = append(before, r.bytes()...)
		}
		if v, _, _, _ := scan(r, before); v == answered || v == refused {
			rt.Skip("the noise is an answer by chance")
		}
		all := append(append(before, answer...), rapid.SliceOfN(rapid.Byte(), 0, 5).Draw(rt, "after")...)
		v, got, _, _ := scan(r, all)
		if v != answered || string(got) != string(data) {
			rt.Fatalf("%x in %x: %d %x", answer, all, v, got)
		}
		for n := range len(before) + len(answer) {
			if v, _, _, _ := scan(r, all[:n]); v == answered {
				rt.Fatalf("answered by %d of %d bytes", n, len(before)+len(answer))
			}
		}
	})
}

func FuzzScan(f *testing.F) {
	f.Add(byte(0x11), byte(3), uint16(0x6b), byte(3), unhex(f, "110306022b00000064c8ba"))
	f.Add(byte(0x11), byte(3), uint16(0x6b), byte(3), unhex(f, "1183020135"))
	f.Add(byte(1), byte(4), uint16(0), byte(2), []byte{})
	f.Fuzz(func(t *testing.T, unit, table byte, address uint16, count byte, b []byte) {
		r := request{unit, Table(table), address, 1 + uint16(count%125)}
		v, data, _, from := scan(r, b)
		if v == answered && len(data) != 2*int(r.count) {
			t.Fatalf("%d bytes for %d registers", len(data), r.count)
		}
		if v != answered && data != nil {
			t.Fatal("data without an answer")
		}
		if v == otherUnit && from == unit {
			t.Fatal("the other unit is the same")
		}
	})
}

func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		typ   Type
		order WordOrder
		hex   string
		want  float64
		from  string
	}{
		{U16, HighFirst, "022b", 555, "application protocol V1.1b3, section 6.3: 022B is 555"},
		{S16, HighFirst, "ffff", -1, "two's complement"},
		{S16, LowFirst, "8000", -32768, "two's complement; one register has no word order"},
		{U32, HighFirst, "00010000", 65536, "arithmetic"},
		{U32, LowFirst, "00010000", 1, "arithmetic"},
		{S32, HighFirst, "fffffffe", -2, "two's complement"},
		{S32, LowFirst, "fffeffff", -2, "two's complement"},
		{F32, HighFirst, "3f800000", 1, "IEEE 754: sign 0, exponent 127, fraction 0"},
		{F32, LowFirst, "0000c000", -2, "IEEE 754: sign 1, exponent 128, fraction 0"},
	} {
		got, _ := c.typ.number(unhex(t, c.hex), c.order)
		require.Equal(t, c.want, got, c.from)
	}
	v, raw := F32.number(unhex(t, "7fc00000"), HighFirst)
	require.True(t, math.IsNaN(v))
	require.EqualValues(t, 0x7fc00000, raw)
	for i := range numTypes {
		back, ok := TypeByName(i.String())
		require.True(t, ok)
		require.Equal(t, i, back)
	}
	_, ok := TypeByName("u64")
	require.False(t, ok)
	require.Equal(t, "unknown_type", numTypes.String())
}

// Source: Modbus over serial line V1.02, section 2.5.1.1: 3.5 characters of 11
// bits, and 1.750 ms above 19 200 baud.
func TestQuietTime(t *testing.T) {
	for baud, want := range map[int]float64{1200: 32.0833, 9600: 4.01042, 19_200: 2.00521, 38_400: 1.75, 115_200: 1.75} {
		require.InDelta(t, want, float64(quietTime(baud))/float64(time.Millisecond), 1e-4)
	}
}
