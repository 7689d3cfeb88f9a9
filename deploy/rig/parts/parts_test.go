package parts

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// clock is a time that a test moves.
type clock struct{ at time.Duration }

func (c *clock) now() time.Duration { return c.at }

func write(t *testing.T, c interface {
	Start(bool) bool
	Write(byte) bool
	Stop()
}, b ...byte) {
	t.Helper()
	require.True(t, c.Start(false))
	for _, x := range b {
		require.True(t, c.Write(x), "%#x", b)
	}
	c.Stop()
}

func read16(a *ADS1115, register byte) uint16 {
	a.Start(false)
	a.Write(register)
	a.Start(true)
	hi, lo := a.Read(), a.Read()
	a.Stop()
	return uint16(hi)<<8 | uint16(lo)
}

func TestConverterCodes(t *testing.T) {
	for _, c := range []struct {
		name   string
		volts  float64
		pga    uint16
		want   uint16
		source string
	}{
		{"full scale", 2.048, 2, 0x7fff, "SBAS444, table 8-1"},
		{"one step", 2.048 / 32768, 2, 0x0001, "SBAS444, table 8-1"},
		{"zero", 0, 2, 0, "SBAS444, table 8-1"},
		{"one step below", -2.048 / 32768, 2, 0xffff, "SBAS444, table 8-1"},
		{"negative full scale", -2.048, 2, 0x8000, "SBAS444, table 8-1"},
		{"step of 125 uV", 125e-6, 1, 0x0001, "SBAS444, table 7-1: LSB at 4.096 V"},
	} {
		t.Run(c.name, func(t *testing.T) {
			clk := &clock{}
			a := NewADS1115(clk.now)
			a.Set(1, Wave{Mean: c.volts})
			config := uint16(1<<15 | 5<<12 | 1<<8 | 4<<5 | 3)
			config |= c.pga << 9
			write(t, a, 1, byte(config>>8), byte(config))
			clk.at += 9 * time.Millisecond // 128 a second take 7.8 ms
			require.Equal(t, c.want, read16(a, 0), c.source)
		})
	}
}

func TestConverterTakesItsTime(t *testing.T) {
	clk := &clock{}
	a := NewADS1115(clk.now)
	a.Set(0, Wave{Mean: 1})
	require.EqualValues(t, 0x8583, read16(a, 1), "SBAS444, table 8-3: value after reset")
	write(t, a, 1, 0xc3, 0x83) // single shot, AIN0, 4.096 V, 128 a second
	clk.at = 7 * time.Millisecond
	require.EqualValues(t, 0x4383, read16(a, 1), "OS is 0 during a conversion")
	require.Zero(t, read16(a, 0), "the old result stays until then")
	clk.at = 8 * time.Millisecond
	require.EqualValues(t, 0xc383, read16(a, 1))
	require.EqualValues(t, 8000, read16(a, 0))
}

func TestConverterBrownOut(t *testing.T) {
	clk := &clock{}
	a := NewADS1115(clk.now)
	a.Set(0, Wave{Mean: 1})
	a.BrownOut(1)
	write(t, a, 1, 0xc3, 0x83)
	clk.at = time.Second
	require.EqualValues(t, 0x8583, read16(a, 1), "the config is gone, and the chip looks idle")
	require.Zero(t, read16(a, 0))
}

func TestThermometerTable(t *testing.T) {
	// Maxim 19-7487, table 1: temperature and data relationship.
	for _, c := range []struct {
		tempC float64
		want  uint16
	}{
		{125, 0x07d0}, {85, 0x0550}, {25.0625, 0x0191}, {10.125, 0x00a2}, {0.5, 0x0008},
		{0, 0}, {-0.5, 0xfff8}, {-10.125, 0xff5e}, {-25.0625, 0xfe6f}, {-55, 0xfc90},
	} {
		clk := &clock{}
		m := NewDS2482(NewDS18B20(clk.now, 0x123456, c.tempC))
		wire(t, m, romSkip, funcConvert)
		clk.at = 749 * time.Millisecond
		require.Zero(t, readWire(t, m), "a conversion takes 750 ms")
		clk.at = 750 * time.Millisecond
		require.EqualValues(t, 0xff, readWire(t, m))
		wire(t, m, romSkip, funcRead)
		s := make([]byte, 9)
		for i := range s {
			s[i] = readWire(t, m)
		}
		require.Equal(t, c.want, uint16(s[0])|uint16(s[1])<<8, "%v", c.tempC)
		require.Zero(t, CRC8(s))
	}
}

// wire resets the 1-wire bus and sends bytes on it.
func wire(t *testing.T, m *DS2482, b ...byte) {
	write(t, m, cmdBusReset)
	for _, x := range b {
		write(t, m, cmdWriteByte, x)
	}
}

func readWire(t *testing.T, m *DS2482) byte {
	write(t, m, cmdReadByte)
	write(t, m, cmdSetPointer, regData)
	m.Start(true)
	defer m.Stop()
	return m.Read()
}

func TestCRC8(t *testing.T) {
	rom := []byte{0x02, 0x1c, 0xb8, 0x01, 0x00, 0x00, 0x00}
	require.EqualValues(t, 0xa2, CRC8(rom), "Maxim application note 27, the example of figure 3 and table 1")
	require.Zero(t, CRC8(append(rom, 0xa2)))
}

// A search by triplets must find each thermometer, as the kernel's does.
func TestSearchFindsBoth(t *testing.T) {
	clk := &clock{}
	one, two := NewDS18B20(clk.now, 0x123456, 0), NewDS18B20(clk.now, 0xabcdef01, 0)
	m := NewDS2482(one, two)
	found := map[[8]byte]bool{}
	for _, prefer := range []byte{0, 0x80} {
		wire(t, m, romSearch)
		var rom [8]byte
		for i := range 64 {
			write(t, m, cmdTriplet, prefer)
			m.Start(true)
			if m.Read()&bitDirection != 0 {
				rom[i/8] |= 1 << (i % 8)
			}
			m.Stop()
		}
		require.Zero(t, CRC8(rom[:]))
		found[rom] = true
	}
	require.Equal(t, map[[8]byte]bool{one.rom: true, two.rom: true}, found)
}

func TestBrokenThermometer(t *testing.T) {
	clk := &clock{}
	m := NewDS2482(NewDS18B20(clk.now, 1, 20))
	require.NoError(t, m.BadCRC(0, true))
	require.ErrorIs(t, m.BadCRC(1, true), ErrNoSensor)
	wire(t, m, romSkip, funcRead)
	s := make([]byte, 9)
	for i := range s {
		s[i] = readWire(t, m)
	}
	require.NotZero(t, CRC8(s))
	require.EqualValues(t, 0x0550, uint16(s[0])|uint16(s[1])<<8, "19-7487: 85 degrees after power-on")
	require.NoError(t, m.Pull(0, true))
	write(t, m, cmdBusReset)
	m.Start(true)
	require.Zero(t, m.Read()&bitPresence, "nobody answers the reset")
}
