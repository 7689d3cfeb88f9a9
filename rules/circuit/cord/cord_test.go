package cord_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/deploy/testneed"
	"headroom/rules/check/checktest"
	"headroom/rules/circuit/cord"
)

const warmK = 348.15

func TestChecks(t *testing.T) { checktest.Run(t, cord.Checks()) }

func drawGauge(t *rapid.T) cord.Gauge {
	return cord.Gauge(rapid.IntRange(int(cord.AWG18), int(cord.MM2x10)).Draw(t, "gauge"))
}

// Source: NFPA 70 (NEC) chapter 9 table 8 and table 400.5(A)(1), through the
// shared table.
func TestTablesAgreeWithTheSharedTable(t *testing.T) {
	f, err := os.Open(testneed.Shared(t, "reference", "nec_wire.csv"))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 6)
	for _, r := range rows[1:] {
		g, ok := cord.ParseGauge(r[0] + " AWG")
		require.True(t, ok)
		for col, got := range map[int]func() (float64, bool){
			2: func() (float64, bool) { o, ok := cord.OhmPerM(g, warmK); return o * 304.8, ok },
			4: func() (float64, bool) { return cord.AmpacityA(g, 3) },
			5: func() (float64, bool) { return cord.AmpacityA(g, 2) },
		} {
			want, err := strconv.ParseFloat(r[col], 64)
			require.NoError(t, err)
			v, ok := got()
			require.True(t, ok)
			require.InEpsilon(t, want, v, 1e-12, "%v, column %d", g, col)
		}
	}
}

// Source: both laws describe the same copper: NFPA's 0.00323 per K at 75 C is
// 1/(234.5 + 75) to its last printed digit, half a digit over 115 K is 6e-4.
func TestBothTemperatureLawsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.Float64Range(cord.MinTempK, cord.MaxTempK).Draw(t, "tempK")
		ratio := func(g cord.Gauge) float64 {
			a, _ := cord.OhmPerM(g, k)
			b, _ := cord.OhmPerM(g, warmK)
			return a / b
		}
		require.InDelta(t, ratio(cord.MM2x1p5), ratio(cord.AWG14), 6e-4)
	})
}

func TestThickerOrColderLosesLess(t *testing.T) {
	for _, series := range [][2]cord.Gauge{{cord.AWG18, cord.AWG10}, {cord.MM2x0p75, cord.MM2x10}} {
		for g := series[0]; g < series[1]; g++ {
			thin, ok := cord.OhmPerM(g, warmK)
			require.True(t, ok)
			thick, ok := cord.OhmPerM(g+1, warmK)
			require.True(t, ok)
			require.Less(t, thick, thin)
			cold, ok := cord.OhmPerM(g, 273.15)
			require.True(t, ok)
			require.Less(t, cold, thin)
		}
	}
}

// The longest cord must lose just the share that it was asked for.
func TestLongestLosesTheShare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := drawGauge(t)
		k := rapid.Float64Range(cord.MinTempK, cord.MaxTempK).Draw(t, "tempK")
		v := rapid.Float64Range(100, 250).Draw(t, "supplyV")
		a := rapid.Float64Range(1, 50).Draw(t, "a")
		share := rapid.SampledFrom([]float64{cord.BranchShare, cord.TotalShare}).Draw(t, "share")
		l, ok := cord.LongestM(g, k, v, a, share)
		require.True(t, ok)
		loop, ok := cord.LoopOhm(g, l, k)
		require.True(t, ok)
		d := cord.DropAt(loop, v, a)
		require.Equal(t, cord.StatusOK, d.Status)
		if l < cord.MaxLengthM {
			require.InEpsilon(t, share, d.Share, 1e-12)
		}
		require.InEpsilon(t, v, d.DropV+d.MotorV, 1e-12)
		// Energy: what enters is what the motor gets and what heats the cord.
		require.InEpsilon(t, v*a, d.MotorV*a+d.HeatW, 1e-12)
	})
}

func TestTwoCordsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := drawGauge(t)
		l := rapid.Float64Range(0, 400).Draw(t, "lengthM")
		one, _ := cord.LoopOhm(g, l, warmK)
		two, ok := cord.LoopOhm(g, 2*l, warmK)
		require.True(t, ok)
		require.InDelta(t, two, one+one, 1e-12)
	})
}

func TestStatusAndNames(t *testing.T) {
	require.Equal(t, cord.StatusShort, cord.DropAt(1, 120, 60).Status)
	require.Equal(t, cord.StatusUnknown, cord.DropAt(math.NaN(), 120, 15).Status)
	seen := map[string]bool{}
	for g := cord.GaugeUnknown; g <= cord.MM2x10; g++ {
		seen[g.String()] = true
		back, ok := cord.ParseGauge(g.String())
		require.Equal(t, g != cord.GaugeUnknown, ok)
		require.Equal(t, g, back)
	}
	require.Len(t, seen, 13)
	for s := cord.StatusUnknown; s <= cord.StatusShort; s++ {
		seen["status "+s.String()] = true
	}
	require.Len(t, seen, 13+3)
	_, ok := cord.AmpacityA(cord.MM2x1p5, 2)
	require.False(t, ok, "the table has no metric sizes")
	_, ok = cord.AmpacityA(cord.AWG12, 4)
	require.False(t, ok)
}

func FuzzCord(f *testing.F) {
	f.Add(uint8(4), 15.24, 348.15, 120.0, 16.0, 0.03)
	f.Add(uint8(200), math.NaN(), math.Inf(1), -1.0, 1e308, 5e-324)
	f.Fuzz(func(t *testing.T, gauge uint8, length, tempK, v, a, share float64) {
		g := cord.Gauge(gauge)
		loop, ok := cord.LoopOhm(g, length, tempK)
		if !ok {
			loop = length
		}
		l, _ := cord.LongestM(g, tempK, v, a, share)
		d := cord.DropAt(loop, v, a)
		for _, x := range []float64{l, d.DropV, d.MotorV, d.Share, d.HeatW} {
			if !(x >= 0) || math.IsInf(x, 0) {
				t.Fatalf("value %v of %+v", x, d)
			}
		}
	})
}

func FuzzParseGauge(f *testing.F) {
	f.Add("12 AWG")
	f.Add("1.5 mm2")
	f.Add("")
	f.Fuzz(func(t *testing.T, s string) {
		if g, ok := cord.ParseGauge(s); ok && g.String() != s {
			t.Fatalf("%q became %v", s, g)
		}
	})
}

func BenchmarkDropAt(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		_ = cord.DropAt(0.2, 120, 16)
	}
}
