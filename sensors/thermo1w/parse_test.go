package thermo1w

import (
	"encoding/hex"
	"errors"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func bytesOf(t *testing.T, h string) []byte {
	t.Helper()
	b, err := hex.DecodeString(h)
	require.NoError(t, err)
	return b
}

func TestCRC8(t *testing.T) {
	for _, c := range []struct {
		data string
		crc  byte
		from string
	}{
		{"021cb801000000", 0xa2, "Maxim application note 27, the ROM of its example"},
		{"021cb801000000a2", 0, "the same with its checksum"},
		{"50054b467fff0c10", 0x1c, "DS18B20 power-on scratchpad, as printed by public drivers' tests"},
		{"313233343536373839", 0xa1, "check value of CRC-8/MAXIM over \"123456789\", published CRC catalogues"},
	} {
		require.Equal(t, c.crc, crc8(bytesOf(t, c.data)), c.from)
	}
}

func withCRC(lsb, msb byte) (pad [scratchSize]byte) {
	copy(pad[:], []byte{lsb, msb, 0x4b, 0x46, 0x7f, 0xff, 0x0c, 0x10})
	pad[8] = crc8(pad[:8])
	return pad
}

// Source: the DS18B20 data sheet's table of temperatures and bytes.
func TestTemperatures(t *testing.T) {
	for raw, celsius := range map[uint16]float64{
		0x07d0: 125, 0x0191: 25.0625, 0x00a2: 10.125, 0x0008: 0.5, 0x0000: 0,
		0xfff8: -0.5, 0xff5e: -10.125, 0xfe6f: -25.0625, 0xfc90: -55,
	} {
		got, fault := decode(withCRC(byte(raw), byte(raw>>8)))
		require.Nil(t, fault)
		require.Equal(t, celsius*1000, got)
		require.InDelta(t, celsius+273.15, kelvin(got), 1e-9)
	}
	_, fault := decode(withCRC(0x50, 0x05)) // 85 in the same table
	require.Same(t, errPowerOn, fault)
	for _, raw := range []uint16{0x07d1, 0xfc8f} {
		_, fault = decode(withCRC(byte(raw), byte(raw>>8)))
		require.ErrorContains(t, fault, "outside the sensor's range")
	}
	_, fault = decode([scratchSize]byte{})
	require.Same(t, errLow, fault)
}

// A CRC of eight bits finds every single wrong bit (textbook property).
func TestAnyWrongBitIsFound(t *testing.T) {
	pad := withCRC(0x91, 0x01)
	for bit := range scratchSize * 8 {
		bad := pad
		bad[bit/8] ^= 1 << (bit % 8)
		_, fault := decode(bad)
		require.Same(t, errCRC, fault, "bit %d", bit)
	}
}

func TestSerials(t *testing.T) {
	a, err := Serial("28-000000123456").Address()
	require.NoError(t, err)
	require.EqualValues(t, 0x0000_0012_3456_28, a&0x00ff_ffff_ffff_ffff)
	rom := make([]byte, 8)
	for i := range rom {
		rom[i] = byte(a >> (8 * i))
	}
	require.Zero(t, crc8(rom), "the code carries its own checksum")
	for want, s := range map[string]Serial{
		"is no serial number": "28000000123456", "1-wire sensor: write": "28-00000012345", "for example": "28-00000012345g",
		"as the kernel does": "2x-000000123456", "family 10": "10-000000123456", "28-000000123456": "../28-000000/..",
	} {
		_, err := s.Address()
		require.ErrorContains(t, err, want)
	}
}

func TestFixtureTrees(t *testing.T) {
	for _, c := range []struct {
		tree   string
		serial Serial
		milliC float64
		fault  error
		words  string
	}{
		{"good", "28-000000123456", 21_500, nil, ""},
		{"good", "28-000000abcdef", -7_250, nil, ""},
		{"temperature_only", "28-000000123456", 10_125, nil, ""},
		{"power_on", "28-000000123456", 0, errPowerOn, "power-on value"},
		{"power_on", "28-000000abcdef", 0, errPowerOn, "power-on value"},
		{"crc", "28-000000123456", 0, errCRC, "checksum"},
		{"crc_hidden", "28-000000123456", 0, errCRC, "checksum"},
		{"empty", "28-000000123456", 0, errEmpty, "wire off or loose, or a wrong checksum"},
		{"empty", "28-000000abcdef", 0, errEmpty, "wire off or loose, or a wrong checksum"},
		{"low", "28-000000123456", 0, errLow, "shorted to ground"},
		{"no_sensor", "28-000000123456", 0, errLost, "not on the bus"},
		{"differ", "28-000000123456", 0, nil, "differ"},
		{"torn", "28-000000123456", 0, nil, "can't be understood"},
		{"hot", "28-000000123456", 0, nil, "125.1 °C is outside"},
	} {
		got, err := Files{Root: "testdata/" + c.tree}.Read(c.serial)
		if c.words == "" {
			require.NoError(t, err, c.tree)
			require.Equal(t, c.milliC, got, c.tree)
			continue
		}
		var fault *Fault
		require.True(t, errors.As(err, &fault), c.tree)
		require.ErrorContains(t, err, c.words, c.tree)
		if c.fault != nil {
			require.Same(t, c.fault, error(fault), c.tree)
		}
	}
	_, err := Files{Root: "testdata/nowhere"}.Read("28-000000123456")
	var fault *Fault
	require.False(t, errors.As(err, &fault), "without the bus it is no matter of one sensor")
	require.ErrorContains(t, err, "is it switched on in the board's configuration?")
}

// A torn or bent text never gives a temperature other than the true one.
func TestATornTextGivesNoOtherTemperature(t *testing.T) {
	const whole = "58 01 4b 46 7f ff 0c 10 c2 : crc=c2 YES\n58 01 4b 46 7f ff 0c 10 c2 t=21500\n"
	pad := withCRC(0x58, 0x01)
	require.EqualValues(t, 0xc2, pad[8], "checked with a second implementation, in Python")
	rapid.Check(t, func(rt *rapid.T) {
		b := []byte(whole)
		if rapid.Bool().Draw(rt, "cut") {
			b = b[:rapid.IntRange(0, len(b)-8).Draw(rt, "at")]
		} else {
			b[rapid.IntRange(0, 26).Draw(rt, "place")] = rapid.SampledFrom([]byte("0123456789abcdef \n:")).Draw(rt, "letter")
		}
		if got, fault := parseSlave(string(b)); fault == nil && got != 21_500 {
			rt.Fatalf("%q gives %g", b, got)
		}
	})
}

func FuzzParseSlave(f *testing.F) {
	f.Add("58 01 4b 46 7f ff 0c 10 c2 : crc=c2 YES\n58 01 4b 46 7f ff 0c 10 c2 t=21500\n")
	f.Add("00 00 00 00 00 00 00 00 00 : crc=00 YES\n00 00 00 00 00 00 00 00 00 t=0\n")
	f.Add("")
	f.Add("85000")
	f.Fuzz(func(t *testing.T, text string) {
		for _, parse := range []func(string) (float64, *Fault){parseSlave, parseTemperature} {
			v, fault := parse(text)
			if fault == nil && !(v >= lowMilliC && v <= highMilliC && v != powerOnMilliC) {
				t.Fatalf("%q gives %g", text, v)
			}
			if fault != nil && (v != 0 || fault.Words == "") {
				t.Fatalf("%q gives %g with a fault", text, v)
			}
		}
	})
}
