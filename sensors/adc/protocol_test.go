package adc

import (
	"context"
	"encoding/csv"
	"os"
	"strconv"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c/i2ctest"

	"headroom/deploy/testneed"
	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/convert"
)

// Source: ADS1115 data sheet, config register, by way of ads1115.csv and
// ads1115_dr.csv.
func TestRangesAndRatesAgainstTheTables(t *testing.T) {
	read := func(name string) [][]string {
		f, err := os.Open(testneed.Shared(t, "reference", name))
		require.NoError(t, err)
		defer f.Close()
		rows, err := csv.NewReader(f).ReadAll()
		require.NoError(t, err)
		return rows[1:]
	}
	seen := 0
	for _, row := range read("ads1115.csv")[:6] { // the last two repeat 0.256 V
		for r := range numRanges {
			if strconv.FormatFloat(r.FullV(), 'g', -1, 64) != row[1] {
				continue
			}
			seen++
			bits, err := strconv.ParseUint(row[0], 2, 16)
			require.NoError(t, err)
			require.Equal(t, uint16(bits)<<9, config(AIN0, r, SPS128, true)&0x0E00)
			step, err := strconv.ParseFloat(row[2], 64)
			require.NoError(t, err)
			require.InEpsilon(t, step, r.StepV()*1e6, 1e-12)
		}
	}
	require.Equal(t, int(numRanges), seen)
	seen = 0
	for _, row := range read("ads1115_dr.csv") {
		for r := range numRates {
			if strconv.FormatFloat(r.Hz(), 'g', -1, 64) != row[1] {
				continue
			}
			seen++
			bits, err := strconv.ParseUint(row[0], 2, 16)
			require.NoError(t, err)
			require.Equal(t, uint16(bits)<<5, config(AIN0, FS2V048, r, true)&0x00E0)
		}
	}
	require.Equal(t, int(numRates), seen)
}

func TestConfigWords(t *testing.T) {
	for _, c := range []struct {
		m      Mux
		r      Range
		rate   Rate
		single bool
		want   uint16
		source string
	}{
		// The chip's defaults are 8583; bit 3 is our mark, bit 15 begins.
		{Diff01, FS2V048, SPS128, true, 0x0583 | 8, "data sheet, reset value 8583h, from memory"},
		{AIN0, FS4V096, SPS860, true, 0x43E3 | 8, "data sheet's fields: 100 001 1 111 00000 | 11"},
		{AIN3, FS0V256, SPS8, false, 0x7A03 | 8, "data sheet's fields: 111 101 0 000"},
		{Diff23, FS6V144, SPS475, true, 0x31C3 | 8, "data sheet's fields: 011 000 1 110"},
	} {
		require.Equal(t, c.want, config(c.m, c.r, c.rate, c.single), c.source)
		require.NotEqual(t, uint16(resetConfig&settingsMask), config(c.m, c.r, c.rate, c.single))
	}
}

// oneLoop is a single loop on AIN2, 4-20 mA over 100 ohm, 0 to 1.6 MPa.
func oneLoop() Options {
	return Options{Chips: []Chip{{Addr: 0x49, Inputs: []Input{{
		Name: "inlet", Mux: AIN2, Range: FS4V096, Rate: SPS860, Channel: frame.InletPressure,
		Convert: convert.Loop{ShuntOhm: 100, Span: convert.Span{High: 1.6e6}},
	}}}}}
}

const (
	addr  = 0x49
	cfgHi = 0x63 // AIN2, 4.096 V, single shot
	cfgLo = 0xEB // 860 SPS, our mark, comparator off
)

func write(hi, lo byte) i2ctest.IO { return i2ctest.IO{Addr: addr, W: []byte{1, hi, lo}} }
func read(reg, hi, lo byte) i2ctest.IO {
	return i2ctest.IO{Addr: addr, W: []byte{reg}, R: []byte{hi, lo}}
}

var (
	beginOp = write(cfgHi|0x80, cfgLo)
	doneOp  = read(1, cfgHi|0x80, cfgLo)
	runsOp  = read(1, cfgHi, cfgLo)
	resetOp = read(1, 0x85, 0x83)
)

func repeatOp(n int, op i2ctest.IO) (ops []i2ctest.IO) {
	for range n {
		ops = append(ops, op)
	}
	return ops
}

func join(parts ...[]i2ctest.IO) (ops []i2ctest.IO) {
	for _, p := range parts {
		ops = append(ops, p...)
	}
	return ops
}

// TestProtocol plays one scan byte by byte, for each thing that can happen.
func TestProtocol(t *testing.T) {
	one := func(ops ...i2ctest.IO) []i2ctest.IO { return ops }
	for _, c := range []struct {
		name   string
		ops    []i2ctest.IO
		value  float64
		status frame.Status
		note   string
	}{
		// 9600 codes of 125 uV are 1.2 V are 12 mA.
		{"reading", one(beginOp, doneOp, read(0, 0x25, 0x80)), 800e3, frame.Good, ""},
		{"chip a little slow", one(beginOp, runsOp, runsOp, doneOp, read(0, 0x25, 0x80)), 800e3, frame.Good, ""},
		{"lost once", one(beginOp, resetOp, beginOp, doneOp, read(0, 0x25, 0x80)), 800e3, frame.Good, ""},
		{"lost twice", one(beginOp, resetOp, beginOp, resetOp), 0, frame.Failed, "ADC 0x49 lost its settings: its supply dips"},
		{"other settings", one(beginOp, read(1, 0xC3, 0xE3), beginOp, read(1, 0xC3, 0xE3)), 0, frame.Failed,
			"ADC 0x49 has settings 43e3 instead of 63eb: its supply dips, or another program uses it"},
		{"never ends", join(one(beginOp), repeatOp(maxPolls+1, runsOp), one(beginOp), repeatOp(maxPolls+1, runsOp)), 0, frame.Failed,
			"ADC 0x49 doesn't end its conversion of AIN2: power it off and on"},
		{"saturated high", one(beginOp, doneOp, read(0, 0x7F, 0xFF)), 0, frame.Failed,
			"voltage 4.1 V: the converter is at the end of its range: wire off or short, or its range is too small"},
		{"saturated low", one(beginOp, doneOp, read(0, 0x80, 0x00)), 0, frame.Failed,
			"voltage -4.1 V: the converter is at the end of its range: wire off or short, or its range is too small"},
		{"zero is confirmed", one(beginOp, doneOp, read(0, 0, 0), doneOp), 0, frame.Failed, "loop current 0 mA: wire off or transmitter without supply"},
		{"zero by a reset", one(beginOp, doneOp, read(0, 0, 0), resetOp, beginOp, doneOp, read(0, 0x25, 0x80)), 800e3, frame.Good, ""},
		{"slightly negative", one(beginOp, doneOp, read(0, 0xFF, 0xFE)), 0, frame.Failed, "loop current -0.0025 mA: wire off or transmitter without supply"},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				opt := oneLoop()
				bus := &i2ctest.Playback{Ops: c.ops, DontPanic: true}
				opt.Bus, opt.nap = bus, time.Sleep
				d, err := New(opt)
				require.NoError(t, err)
				ctx, stop := context.WithCancel(context.Background())
				defer stop()
				t0 := time.Now()
				var got []sensors.Reading
				err = d.Run(ctx, func() time.Duration { return time.Since(t0) }, func(r sensors.Reading) {
					got = append(got, r)
					stop()
				})
				require.NoError(t, err)
				require.NoError(t, bus.Close())
				require.Len(t, got, 1)
				require.Equal(t, c.status, got[0].Sample.Status)
				require.InDelta(t, c.value, got[0].Sample.Value, 1e-6)
				require.Equal(t, c.note, got[0].Note)
			})
		})
	}
}

// TestWaitsForTheConversion: 1.1 conversions and the margin go by between the
// beginning and the first poll. Source: data sheet, clock tolerance of 10 %.
func TestWaitsForTheConversion(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus := &i2ctest.Playback{Ops: []i2ctest.IO{beginOp, doneOp, read(0, 0x25, 0x80)}, DontPanic: true}
		opt := oneLoop()
		opt.Bus, opt.nap = bus, time.Sleep
		d, err := New(opt)
		require.NoError(t, err)
		ctx, stop := context.WithCancel(context.Background())
		defer stop()
		t0 := time.Now()
		require.NoError(t, d.Run(ctx, func() time.Duration { return time.Since(t0) }, func(r sensors.Reading) {
			require.Equal(t, SPS860.conversion()/2, r.At, "the middle of the conversion")
			stop()
		}))
		require.InDelta(t, 1.1/860+100e-6, time.Since(t0).Seconds(), 1e-6)
	})
}
