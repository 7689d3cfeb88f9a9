package hardware

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/require"

	"headroom/daemon/config"
	"headroom/rules/frame"
	"headroom/sensors/adc"
	"headroom/sensors/convert"
	"headroom/sensors/modbus"
)

// adcInput parses one input of a kind and returns it as the config holds it.
func adcInput(t *testing.T, keys string) *config.ADCInput {
	cfg := parse(t, "[simulator]\non = false\n[[sensors.adc]]\nname = \"supply\"\nbus = \"i2c-1\"\naddress = \"0x48\"\ninput = \"AIN3\"\nkind = \"supply\"\n"+
		"[[sensors.adc]]\nbus = \"i2c-1\"\naddress = \"0x48\"\ninput = \"AIN0\"\n"+keys)
	return &cfg.Sensors.ADC[1]
}

// From the words of a config to a value: one signal per kind whose value can
// be told without this program.
func TestEachKindFromConfigToValue(t *testing.T) {
	for _, c := range []struct {
		name, keys   string
		signal       convert.Signal
		want, within float64
		source       string
	}{
		{"ratiometric", "kind = \"ratiometric\"\nchannel = \"inlet_pressure\"\nreference = \"supply\"\nat_low = \"0 bar\"\nat_high = \"10 bar\"\n",
			convert.Signal{VoltV: 2.45, RefV: 4.9, RefOK: true}, 5e5, 1, "by hand: half of the supply is half of the span"},
		{"ratiometric, own shares", "kind = \"ratiometric\"\nchannel = \"inlet_pressure\"\nreference = \"supply\"\nat_low = \"0 psi\"\nat_high = \"100 psi\"\nlow_ratio = 0.2\nhigh_ratio = 0.8\n",
			convert.Signal{VoltV: 1, RefV: 5, RefOK: true}, 0, 1, "by hand: 20 % of the supply"},
		{"loop", "kind = \"loop_4_20\"\nchannel = \"outlet_pressure\"\nshunt = \"150 ohm\"\nat_low = \"0 psi\"\nat_high = \"200 psi\"\n",
			convert.Signal{VoltV: 1.8}, 100 * 6894.757, 10, "by hand: 12 mA; psi: NIST SP 811"},
		{"voltage", "kind = \"voltage\"\nchannel = \"tank_level\"\nlow = \"1 V\"\nhigh = \"5 V\"\nat_low = \"0 %\"\nat_high = \"100 %\"\n",
			convert.Signal{VoltV: 2}, 0.25, 1e-9, "by hand"},
		{"ntc by beta", "kind = \"ntc\"\nchannel = \"water_temp\"\nfeed = \"pull_up\"\nfixed = \"10 kohm\"\nfeed_voltage = \"3.3 V\"\nr25 = \"10 kohm\"\nbeta = 3435\n",
			convert.Signal{VoltV: 1.65}, 298.15, 1e-6, "definition of R25: equal resistors halve the supply"},
		{"ntc pulled down, measured supply", "kind = \"ntc\"\nchannel = \"water_temp\"\nfeed = \"pull_down\"\nfixed = \"20 kohm\"\nreference = \"supply\"\nr25 = \"10 kohm\"\nbeta = 3435\n",
			convert.Signal{VoltV: 10.0 / 3, RefV: 5, RefOK: true}, 298.15, 1e-6, "by hand: 10 over 20 kohm leaves two thirds"},
		{"pt100", "kind = \"pt100\"\nchannel = \"motor_temp\"\nfeed = \"pull_up\"\nfixed = \"1 kohm\"\nfeed_voltage = \"3.3 V\"\nleads = \"0.4 ohm\"\n",
			convert.Signal{VoltV: 3.3 * 138.91 / 1138.91}, 373.15, 0.02, "IEC 60751: 138.51 ohm at 100 degrees Celsius, plus the leads"},
		{"pt1000", "kind = \"pt1000\"\nchannel = \"motor_temp\"\nfeed = \"current_source\"\nfeed_current = \"0.5 mA\"\n",
			convert.Signal{VoltV: 0.5}, 273.15, 1e-6, "IEC 60751: 1000 ohm at 0 degrees Celsius"},
	} {
		require.NotEmpty(t, c.source)
		conv, err := converter(adcInput(t, c.keys))
		require.NoError(t, err)
		require.NoError(t, conv.Validate(), c.name)
		r := conv.Convert(c.signal)
		require.Equal(t, frame.Good, r.Status, "%s: %s", c.name, r.Words())
		require.InDelta(t, c.want, r.Value, c.within, "%s (%s)", c.name, c.source)
	}
}

func TestTransformers(t *testing.T) {
	coil := transformer(config.Transformer{Ratio: 2000, BurdenOhm: 22, BiasV: 1.65, MaxA: 30})
	require.InDelta(t, 10, coil.SampleA(1.65+10.0/2000*22), 1e-9, "by hand: 10 A are 5 mA, 0.11 V over 22 ohm")
	require.InDelta(t, 42.43, coil.MaxPeakA, 0.01, "a sine's peak is its RMS times the root of 2")
	rated := transformer(config.Transformer{APerV: 30, Turns: 2, MaxA: 30})
	require.InDelta(t, 15, rated.SampleA(1), 1e-9, "by hand: 30 A per V, the conductor twice through")
}

func TestTheNarrowestRangeThatShowsEveryFault(t *testing.T) {
	for _, c := range []struct {
		lo, hi, div, asked float64
		want               adc.Range
	}{
		{0, 2.35, 0, 0, adc.FS4V096}, {0, 2.0, 0, 0, adc.FS2V048}, {0, 5.5, 2, 0, adc.FS4V096}, {-1.44, 1.44, 0, 0, adc.FS2V048},
		{-0.2, 0.1, 0, 0, adc.FS0V256}, {0, 30, 0, 0, adc.FS6V144}, {0, 0.1, 0, 6.144, adc.FS6V144},
	} {
		require.Equal(t, c.want, scale(&config.ADCInput{Attenuation: c.div, RangeV: c.asked}, c.lo, c.hi), "%+v", c)
	}
	require.Equal(t, adc.SPS860, rate(0, true))
	require.Equal(t, adc.SPS128, rate(0, false))
	require.Equal(t, adc.SPS475, rate(475, true))
}

func TestASerialLineIsOpenedAsTheConfigSays(t *testing.T) {
	cfg := parse(t, "[simulator]\non = false\n[[sensors.modbus]]\nport = \"/dev/ttyUSB7\"\nbaud = 19200\nframing = \"8E1\"\nstation = 3\nregister = 6\ntable = \"holding\"\ntype = \"s32\"\nwords = \"low_first\"\n"+
		"scale = 0.001\nunit = \"A\"\nnot_available = [\"0x7fffffff\"]\nchannel = \"motor_current\"\n")
	asked := make(chan modbus.Serial, 10)
	p := run(t, Env{OpenSerial: func(s modbus.Serial) (modbus.Port, error) {
		select {
		case asked <- s:
		default:
		}
		return nil, errors.New("no such file or directory")
	}}, cfg, nil)
	require.Equal(t, modbus.Serial{Path: "/dev/ttyUSB7", Baud: 19200, Parity: modbus.EvenParity}, <-asked)
	p.await(t, frame.MotorCurrent, frame.Failed)
	require.Equal(t, modbus.Point{Unit: 3, Table: modbus.Holding, Register: 6, Type: modbus.S32, Order: modbus.LowFirst, Scale: 0.001,
		Symbol: "A", NotAvailable: []uint32{0x7fffffff}, Channel: frame.MotorCurrent}, point(cfg.Sensors.Modbus[0]))
}
