package adc

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c/i2ctest"

	"headroom/rules/frame"
	"headroom/sensors/convert"
)

var (
	bar16 = convert.Loop{ShuntOhm: 100, Span: convert.Span{High: 1.6e6}}
	ct100 = convert.Transformer{Ratio: 2000, BurdenOhm: 10, BiasV: 1.65, MaxPeakA: 141}
	water = convert.NTC{Law: convert.Beta(10e3, 298.15, 3950), Circuit: convert.Circuit{ReferenceOhm: 10e3, SupplyV: 3.3}}
	press = convert.Ratiometric{Span: convert.Span{Low: -1e5, High: 9e5}}
	five  = convert.Supply{MinV: 4.75, MaxV: 5.25}
)

func plain(name string, m Mux, c frame.Channel) Input {
	return Input{Name: name, Mux: m, Range: FS4V096, Rate: SPS860, Channel: c, Convert: bar16}
}

func currentInput(m Mux, cycles int) Input {
	return Input{Name: "current", Mux: m, Range: FS4V096, Rate: SPS860, Channel: frame.MotorCurrent,
		Block: &Block{Transformer: &ct100, Cycles: cycles}}
}

// trailer is the usual small machine on one chip: inlet pressure with its
// supply, water temperature, motor current.
func trailer(cycles int) Options {
	return Options{MainsHz: 60, Chips: []Chip{{Addr: 0x48, Inputs: []Input{
		currentInput(AIN0, cycles),
		{Name: "inlet", Mux: AIN1, Range: FS4V096, Rate: SPS860, Attenuation: 2, Channel: frame.InletPressure, Convert: press, Reference: "5 V"},
		{Name: "water", Mux: AIN2, Range: FS4V096, Rate: SPS860, Channel: frame.WaterTemp, Convert: water},
		{Name: "5 V", Mux: AIN3, Range: FS4V096, Rate: SPS860, Attenuation: 2, Channel: NoChannel, Convert: five},
	}}}}
}

func TestNewSaysWhatIsWrong(t *testing.T) {
	ok := func() Options { return trailer(3) }
	for _, c := range []struct {
		name   string
		change func(*Options)
		want   string
	}{
		{"no bus", func(o *Options) { o.Bus = nil }, "open the I2C bus first"},
		{"no chips", func(o *Options) { o.Chips = nil }, "0 converters"},
		{"period", func(o *Options) { o.Period = time.Millisecond }, "scan period of 1ms"},
		{"clock", func(o *Options) { o.BusHz = 1 }, "bus clock of 1 Hz"},
		{"margin", func(o *Options) { o.Margin = time.Second }, "margin of 1s"},
		{"time limit", func(o *Options) { o.Timeout = time.Minute }, "time limit of 1m0s"},
		{"address", func(o *Options) { o.Chips[0].Addr = 0x47 }, "0x48 to 0x4b"},
		{"twice", func(o *Options) { o.Chips = append(o.Chips, o.Chips[0]) }, "used twice"},
		{"supply", func(o *Options) { o.Chips[0].SupplyV = 12 }, "supply of 12 V"},
		{"no inputs", func(o *Options) { o.Chips[0].Inputs = nil }, "no inputs"},
		{"continuous", func(o *Options) { o.Chips[0].Continuous = true }, "would mix them up"},
		{"name", func(o *Options) { o.Chips[0].Inputs[1].Name = "water" }, "used twice"},
		{"mux", func(o *Options) { o.Chips[0].Inputs[1].Mux = 99 }, "no such input"},
		{"attenuation", func(o *Options) { o.Chips[0].Inputs[1].Attenuation = 0.5 }, "attenuation of 0.5"},
		{"channel", func(o *Options) { o.Chips[0].Inputs[1].Channel = 200 }, "no such channel"},
		{"conversion", func(o *Options) { o.Chips[0].Inputs[1].Convert = nil }, "what is wired"},
		{"two conversions", func(o *Options) { o.Chips[0].Inputs[0].Convert = bar16 }, "one of them"},
		{"channel twice", func(o *Options) { o.Chips[0].Inputs[2].Channel = frame.InletPressure }, "feeds inlet_pressure"},
		{"pin twice", func(o *Options) { o.Chips[0].Inputs[2].Mux = Diff23 }, "already in use"},
		{"no reference", func(o *Options) { o.Chips[0].Inputs[1].Reference = "" }, "must be measured"},
		{"unknown reference", func(o *Options) { o.Chips[0].Inputs[1].Reference = "6 V" }, "is no other input"},
		{"own reference", func(o *Options) { o.Chips[0].Inputs[1].Reference = "inlet" }, "is no other input"},
		{"needless reference", func(o *Options) { o.Chips[0].Inputs[2].Reference = "5 V" }, "has no use"},
		{"range", func(o *Options) { o.Chips[0].Inputs[2].Range = FS2V048 }, "the range ends at 2.048 V"},
		{"pin above supply", func(o *Options) {
			o.Chips[0].Inputs[1].Attenuation, o.Chips[0].Inputs[1].Range = 1, FS6V144
		}, "the converter's supply of 3.3 V"},
		{"bad kind", func(o *Options) { o.Chips[0].Inputs[2].Convert = convert.Loop{} }, "shunt of 0 ohm"},
		{"bad transformer", func(o *Options) { o.Chips[0].Inputs[0].Block.Transformer = &convert.Transformer{} }, "ratio of 0"},
		{"mains", func(o *Options) { o.MainsHz = 0 }, "mains frequency of 0 Hz"},
		{"slow block", func(o *Options) { o.Chips[0].Inputs[0].Rate = SPS475 }, "set the rate to 860"},
		{"cycles", func(o *Options) { o.Chips[0].Inputs[0].Block.Cycles = 99 }, "99 mains cycles"},
		{"two blocks", func(o *Options) {
			o.Chips[0].Inputs[2].Block = &Block{Pulsation: frame.InletPulsation}
		}, "converter of its own"},
		{"block length", func(o *Options) {
			o.Chips[0].Inputs[2].Block = &Block{Pulsation: frame.InletPulsation, Length: time.Hour}
		}, "50 ms to 10 s"},
	} {
		o := ok()
		o.Bus, o.BusHz = &i2ctest.Playback{DontPanic: true}, 400e3
		_, err := New(o)
		require.NoError(t, err, "before the change")
		c.change(&o)
		_, err = New(o)
		require.ErrorContains(t, err, c.want, c.name)
		require.ErrorContains(t, err, "cannot set up", c.name)
	}
}

// The times are worked by hand from the data sheet's rates and the bits on the
// bus: a write is 39 bits and a read 48, each with 100 us beside.
func TestBudgetByHand(t *testing.T) {
	o := Options{Bus: &i2ctest.Playback{}, Chips: []Chip{{Addr: 0x48, Inputs: []Input{
		plain("a", AIN0, frame.InletPressure), plain("b", AIN1, frame.OutletPressure)}}}}
	d, err := New(o)
	require.NoError(t, err)
	write, read := 390e-6+100e-6, 480e-6+100e-6
	one := write + 1.1/860 + 100e-6 + 3*read
	require.InDelta(t, 2*one, d.Budget().Chip[0].Seconds(), 1e-6)
	require.InDelta(t, 2*(write+3*read), d.Budget().Bus.Seconds(), 1e-6)

	o.BusHz, o.MainsHz, o.Chips = 400e3, 60, []Chip{{Addr: 0x48, Inputs: []Input{currentInput(AIN0, 10)}}}
	d, err = New(o)
	require.NoError(t, err)
	require.Zero(t, d.Budget().Chip[0], "a chip of its own is never through")
	require.InDelta(t, 0.1*860*(120e-6+100e-6), d.Budget().Bus.Seconds(), 1e-6)
}

func TestBudgetSaysWhatFits(t *testing.T) {
	slow := func(r Rate) Options {
		o := Options{}
		in := []Input{plain("a", AIN0, frame.InletPressure), plain("b", AIN1, frame.OutletPressure), plain("c", AIN2, frame.TankLevel), plain("d", AIN3, frame.AirPressure)}
		for i := range in {
			in[i].Rate = r
		}
		o.Chips = []Chip{{Addr: 0x48, Inputs: in}}
		return o
	}
	two := trailer(3)
	two.Chips = append(two.Chips, Chip{Addr: 0x49, Inputs: []Input{plain("x", AIN0, frame.OutletPressure)}})
	two.BusHz, two.Period = 100e3, 200*time.Millisecond
	busy := Options{MainsHz: 60, Chips: []Chip{
		{Addr: 0x48, Inputs: []Input{currentInput(Diff01, 10)}},
		{Addr: 0x49, Inputs: []Input{{Name: "pulse", Mux: AIN0, Range: FS4V096, Rate: SPS860, Channel: frame.InletPressure, Convert: bar16, Block: &Block{Pulsation: frame.InletPulsation}}}},
	}}
	for _, c := range []struct {
		name string
		o    Options
		want []string
	}{
		{"default rate", slow(SPS128), nil},
		{"slow rate", slow(SPS32), []string{"a scan of its 4 inputs takes 146.8ms and the period is 100ms", "a period of 148ms fits", "a rate of 64 and more fits", "a converter of its own"}},
		{"long block", trailer(12), []string{"and the period is 100ms", "blocks of 4 mains cycles fit"}},
		{"short block", trailer(3), nil},
		{"no gap", two, []string{"leaves no room", "set the bus to 400 kHz"}},
		{"two blocks on a slow bus", busy, []string{"the bus at 100000 Hz would be busy", "400 kHz"}},
	} {
		c.o.Bus = &i2ctest.Playback{}
		_, err := New(c.o)
		if c.want == nil {
			require.NoError(t, err, c.name)
			continue
		}
		for _, w := range c.want {
			require.ErrorContains(t, err, w, c.name)
		}
	}
}

// What an error recommends must be accepted.
func TestTheAdviceHolds(t *testing.T) {
	o := trailer(4)
	o.Bus = &i2ctest.Playback{}
	_, err := New(o)
	require.NoError(t, err)
}
