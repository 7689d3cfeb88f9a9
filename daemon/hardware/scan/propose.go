package scan

import (
	"fmt"
	"io"
	"slices"
	"strings"
)

// Propose prints a config for what was recognised, to be changed to what is
// really wired: nobody can see that from here. It prints nothing where nothing
// was recognised.
func (f Found) Propose(w io.Writer) error {
	var b strings.Builder
	f.proposeConverters(&b)
	f.proposeThermometers(&b)
	f.proposePulse(&b)
	f.proposeModbus(&b)
	if b.Len() == 0 {
		return nil
	}
	_, err := io.WriteString(w, proposalHead+b.String())
	return err
}

const proposalHead = `# Change kinds, channels and figures to what is really wired, then
# run headroom check and headroom live on the file.
[simulator]
on = false
`

// channels that a proposal gives out, one part each.
var (
	loopChannels = []string{"inlet_pressure", "outlet_pressure", "tank_level", "air_pressure"}
	loopEnds     = [][2]string{{"0 psi", "100 psi"}, {"0 psi", "2000 psi"}, {"0 %", "100 %"}, {"300 hPa", "1100 hPa"}}
	temperatures = []string{"water_temp", "motor_temp", "ambient_temp"}
)

// proposeConverters gives each converter one loop, the kind that needs no
// second input.
func (f Found) proposeConverters(b *strings.Builder) {
	n := 0
	for _, bus := range f.Buses {
		for _, p := range bus.Parts {
			if !p.Converter() || n == len(loopChannels) {
				continue
			}
			fmt.Fprintf(b, "\n[[sensors.adc]]\nbus = \"i2c-%d\"\naddress = \"0x%02x\"\ninput = \"AIN0\"\nkind = \"loop_4_20\"\nshunt = \"100 ohm\"\nchannel = %q\nat_low = %q\nat_high = %q\n",
				bus.Number, p.Addr, loopChannels[n], loopEnds[n][0], loopEnds[n][1])
			n++
		}
	}
}

func (f Found) proposeThermometers(b *strings.Builder) {
	for i, serial := range f.Thermometers {
		if i == len(temperatures) {
			fmt.Fprintf(b, "\n# %d more, which no channel is left for: %s\n", len(f.Thermometers)-i, strings.Join(f.Thermometers[i:], ", "))
			return
		}
		fmt.Fprintf(b, "\n[[sensors.thermometer]]\nserial = %q\nchannel = %q\n", serial, temperatures[i])
	}
}

// usualLine is the line that a flow meter is proposed on: common practice, no
// source.
const usualLine = "GPIO17"

func (f Found) proposePulse(b *strings.Builder) {
	for _, c := range f.Chips {
		if slices.ContainsFunc(c.Lines, func(l Line) bool { return l.Name == usualLine && l.User == "" }) {
			fmt.Fprintf(b, "\n[[sensors.pulse]]\nchip = %q\nline = %q\nbias = \"pull_up\"\nedge = \"falling\"\nchannel = \"flow\"\nk_factor = \"450/L\"\nmax_frequency = \"200 Hz\"\n", c.Path, usualLine)
			return
		}
	}
}

// proposeModbus stays a comment: what hangs on a port can't be seen.
func (f Found) proposeModbus(b *strings.Builder) {
	if len(f.Ports) == 0 {
		return
	}
	fmt.Fprintf(b, "\n# [[sensors.modbus]]\n# port = %q\n# station = 1\n# register = 0\n# type = \"f32\"\n# unit = \"V\"\n# channel = \"supply_voltage\"\n", f.Ports[0].Path)
}
