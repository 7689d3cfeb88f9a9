package adc

import (
	"math"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/rules/frame"
	"headroom/sensors"
	"headroom/sensors/convert"
)

// currentChip has a transformer's voltage on AIN0 (bias 1.65 V, 5 mV per A),
// the trailer's other inputs beside it.
func currentChip(ampere func(t float64) float64) *modelChip {
	return &modelChip{volt: func(pin int, t float64) float64 {
		return []float64{1.65 + 0.005*ampere(t), 1.25, 1.65, 2.5}[pin]
	}}
}

func sineA(peakA, hz float64) func(float64) float64 {
	return func(t float64) float64 { return peakA * math.Sin(2*math.Pi*hz*t) }
}

// harmonics has a fifth and a third, as a loaded small motor does.
func harmonics(t float64) float64 {
	return sineA(20, 60)(t) + sineA(3, 180)(t+0.001) + sineA(1, 300)(t)
}

// Source: RMS of a sine is its peak by the root of 2; harmonics add by their
// squares; the averaging of the model over a conversion takes off sin(x)/x.
func TestCurrentBlock(t *testing.T) {
	gain := func(hz float64) float64 {
		g, ok := convert.FilterGain(hz, 860)
		require.True(t, ok)
		return g
	}
	for _, c := range []struct {
		name   string
		ampere func(float64) float64
		clock  float64
		alone  bool
		want   float64
		tol    float64
	}{
		{"shared chip", sineA(20, 60), 1, false, 20 * gain(60) / math.Sqrt2, 0.005},
		{"own chip", sineA(20, 60), 1, true, 20 * gain(60) / math.Sqrt2, 0.005},
		{"own chip, slow clock", sineA(20, 60), 0.9, true, 20 * gain(60) / math.Sqrt2, 0.01},
		{"own chip, fast clock", sineA(20, 60), 1.1, true, 20 * gain(60) / math.Sqrt2, 0.01},
		{"generator at 62 Hz", sineA(20, 62), 1, true, 20 * gain(62) / math.Sqrt2, 0.01},
		{"harmonics", harmonics, 1, true, math.Sqrt((sq(20*gain(60)) + sq(3*gain(180)) + sq(1*gain(300))) / 2), 0.01},
		{"switched off", sineA(0, 60), 1, false, 0, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				chip := currentChip(c.ampere)
				chip.rate = c.clock
				o := trailer(3)
				if c.alone {
					o.Chips[0].Inputs = []Input{currentInput(AIN0, 10)}
				}
				r := newRig(t, newBus(map[uint16]*modelChip{0x48: chip}), o)
				all := r.run(2 * time.Second)
				got := of(all, frame.MotorCurrent)
				s := byName(t, r.d.Stats(), "current")
				if c.alone {
					require.Greater(t, len(got), 8, "blocks follow without a break")
				} else {
					require.InDelta(t, 20, len(got), 1)
					require.InDelta(t, 20, len(of(all, frame.InletPressure)), 1)
					require.Equal(t, frame.Good, of(all, frame.InletPressure)[9].Sample.Status)
					require.InDelta(t, 4e5, of(all, frame.InletPressure)[9].Sample.Value, 150)
				}
				for _, x := range got {
					require.Equal(t, frame.Good, x.Sample.Status, x.Note)
					require.InDelta(t, c.want, x.Sample.Value, max(c.tol*c.want, 0.01))
				}
				require.Zero(t, s.Uneven+s.Late+s.Resets)
				require.InDelta(t, 860, s.RateHz, 5)
				require.InDelta(t, 430, s.NyquistHz, 3)
				require.Equal(t, 7, s.Wave.MaxHarmonic, "860/60/2 = 7.2")
				if c.clock < 1 {
					require.InDelta(t, 0.1, float64(s.Repeats)/float64(s.Conversions), 0.03, "a slow chip repeats")
				}
				if c.name == "own chip" {
					require.InDelta(t, math.Sqrt2, s.Wave.Crest, 0.04)
				}
			})
		})
	}
}

func sq(x float64) float64 { return x * x }

// With 3.3 V of supply and 4.096 V of range the code never saturates, so the
// fault of a big current is the transformer's.
func TestCurrentFaults(t *testing.T) {
	for _, c := range []struct {
		name   string
		volt   func(pin int, t float64) float64
		status frame.Status
		note   string
		// leastV is the RMS voltage of the current that stays as a bound: the
		// amplitude over the root of 2, 0 for none.
		leastV float64
	}{
		{"plug off", func(int, float64) float64 { return 0 }, frame.Failed, "voltage 0 V: the mid-point voltage is wrong", 0},
		{"inrush", func(_ int, t float64) float64 { return 1.65 + 0.9*math.Sin(377*t) }, frame.OutOfBand, "beyond the current for which the transformer is linear", 0.9 / math.Sqrt2},
		{"saturated on one side", func(_ int, t float64) float64 { return 1.65 + 5*math.Sin(377*t) }, frame.Failed, "at the end of its range", 0},
	} {
		synctest.Test(t, func(t *testing.T) {
			o := Options{MainsHz: 60, Chips: []Chip{{Addr: 0x48, Inputs: []Input{currentInput(AIN0, 10)}}}}
			all := newRig(t, newBus(map[uint16]*modelChip{0x48: {volt: c.volt}}), o).run(time.Second)
			require.NotEmpty(t, all, c.name)
			for _, x := range all {
				require.Equal(t, c.status, x.Sample.Status, c.name)
				require.Contains(t, x.Note, c.note)
				per := o.Chips[0].Inputs[0].Block.Transformer
				require.InDelta(t, c.leastV*per.Ratio/per.BurdenOhm, x.Sample.Value, 0.02*x.Sample.Value)
			}
		})
	}
}

func TestABlockWithGapsIsThrownAway(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := Options{MainsHz: 60, Chips: []Chip{{Addr: 0x48, Inputs: []Input{currentInput(AIN0, 10)}}}}
		bus := newBus(map[uint16]*modelChip{0x48: currentChip(sineA(20, 60))})
		n := 0
		bus.lag = func() time.Duration {
			if n++; n%100 == 0 {
				return 8 * time.Millisecond // somebody else had the processor
			}
			return 0
		}
		r := newRig(t, bus, o)
		all := r.run(2 * time.Second)
		s := r.d.Stats()[0]
		require.Equal(t, s.Blocks, s.Uneven)
		require.Len(t, all, int(s.Blocks)-2, "the third in a row is told")
		for _, x := range all {
			require.Equal(t, frame.Failed, x.Sample.Status)
			require.Contains(t, x.Note, "samples came with gaps")
		}
	})
}

func TestABlockAcrossABrownOutIsThrownAway(t *testing.T) {
	for _, alone := range []bool{false, true} {
		synctest.Test(t, func(t *testing.T) {
			o := trailer(3)
			if alone {
				o.Chips[0].Inputs = []Input{currentInput(AIN0, 10)}
			}
			bus := newBus(map[uint16]*modelChip{0x48: currentChip(sineA(20, 60))})
			r := newRig(t, bus, o)
			r.start()
			for range 7 {
				time.Sleep(437 * time.Millisecond)
				bus.mu.Lock()
				bus.chips[0x48].brownOut()
				bus.mu.Unlock()
			}
			time.Sleep(time.Second)
			got := of(r.end(), frame.MotorCurrent)
			require.GreaterOrEqual(t, byName(t, r.d.Stats(), "current").Resets, uint64(1))
			require.Greater(t, len(got), 8)
			for _, x := range got {
				if x.Sample.Status == frame.Good {
					require.InEpsilon(t, 20*0.992/math.Sqrt2, x.Sample.Value, 0.01)
				}
			}
			require.Equal(t, frame.Good, got[len(got)-1].Sample.Status)
		})
	}
}

// A chip that resets during every block must not starve the others on it.
func TestAChipThatAlwaysResetsFailsInWords(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus := newBus(map[uint16]*modelChip{0x48: currentChip(sineA(20, 60))})
		r := newRig(t, bus, trailer(3))
		r.start()
		for range 150 {
			time.Sleep(20 * time.Millisecond)
			bus.mu.Lock()
			bus.chips[0x48].brownOut()
			bus.mu.Unlock()
		}
		all := r.end()
		got := of(all, frame.MotorCurrent)
		require.Greater(t, len(got), 10)
		for _, x := range got {
			require.Equal(t, frame.Failed, x.Sample.Status)
			require.Equal(t, "ADC 0x48 lost its settings: its supply dips", x.Note)
		}
		require.Greater(t, len(of(all, frame.InletPressure)), 10)
	})
}

// Source: RMS of a sine; a rise of 40 kPa in a second is no pulsation.
func TestPulsationBlockBesideAnotherChip(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		inlet := &modelChip{volt: func(_ int, t float64) float64 {
			pa := 300e3 + 40e3*t + 8e3*math.Sin(2*math.Pi*72*t)
			return 100 * (4e-3 + 16e-3*pa/1.6e6)
		}}
		other := &modelChip{volt: func(pin int, _ float64) float64 { return []float64{0.8, 1.2, 1.6, 2}[pin] }}
		o := Options{Chips: []Chip{
			{Addr: 0x48, Inputs: []Input{{Name: "pulse", Mux: AIN0, Range: FS4V096, Rate: SPS860, Channel: frame.InletPressure, Convert: bar16,
				Block: &Block{Pulsation: frame.InletPulsation}}}},
			{Addr: 0x49, Inputs: []Input{plain("out", AIN1, frame.OutletPressure)}},
		}}
		r := newRig(t, newBus(map[uint16]*modelChip{0x48: inlet, 0x49: other}), o)
		require.ElementsMatch(t, []frame.Channel{frame.InletPressure, frame.InletPulsation, frame.OutletPressure}, r.d.Channels())
		all := r.run(3 * time.Second)
		pulse, mean := of(all, frame.InletPulsation), of(all, frame.InletPressure)
		require.Greater(t, len(pulse), 4)
		g, _ := convert.FilterGain(72, 860)
		for i, x := range pulse {
			require.Equal(t, frame.Good, x.Sample.Status, x.Note)
			require.InEpsilon(t, 8e3*g/math.Sqrt2, x.Sample.Value, 0.01)
			require.InDelta(t, 300e3+40e3*mean[i].At.Seconds(), mean[i].Sample.Value, 500)
		}
		require.InDelta(t, 30, len(of(all, frame.OutletPressure)), 1, "the other chip keeps its pace")
		s := byName(t, r.d.Stats(), "pulse")
		require.Zero(t, s.Uneven)
		require.InDelta(t, 860, s.RateHz, 5)
	})
}

func TestPulsationFaultsReachBothChannels(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := Options{Chips: []Chip{{Addr: 0x48, Inputs: []Input{{Name: "pulse", Mux: AIN0, Range: FS4V096, Rate: SPS860,
			Channel: frame.InletPressure, Convert: bar16, Block: &Block{Pulsation: frame.InletPulsation}}}}}}
		off := &modelChip{volt: func(_ int, t float64) float64 {
			if t > 1 {
				return 0
			}
			return 1.2
		}}
		all := newRig(t, newBus(map[uint16]*modelChip{0x48: off}), o).run(3 * time.Second)
		for _, c := range []frame.Channel{frame.InletPressure, frame.InletPulsation} {
			got := of(all, c)
			require.Equal(t, frame.Good, got[0].Sample.Status)
			require.Equal(t, sensors.Reading{Channel: c, Sample: frame.Sample{Status: frame.Failed}, At: got[len(got)-1].At,
				Note: "loop current 0 mA: wire off or transmitter without supply"}, got[len(got)-1])
		}
	})
}
