package scan

import (
	"fmt"
	"io"
	"strings"
)

// Write prints what was found, for people.
func (f Found) Write(w io.Writer) error {
	var b strings.Builder
	f.writeBuses(&b)
	b.WriteString("\n1-wire\n")
	for _, s := range f.Thermometers {
		fmt.Fprintf(&b, "  %s  thermometer\n", s)
	}
	for _, s := range f.Others {
		fmt.Fprintf(&b, "  %s  no thermometer that can be read\n", s)
	}
	none(&b, len(f.Thermometers)+len(f.Others), "no sensor; is 1-wire switched on in the board's configuration?")
	b.WriteString("\nGPIO\n")
	for _, c := range f.Chips {
		writeChip(&b, c)
	}
	none(&b, len(f.Chips), "no chip")
	b.WriteString("\nSerial ports\n")
	for _, p := range f.Ports {
		fmt.Fprintf(&b, "  %s", p.Path)
		if p.Target != "" {
			fmt.Fprintf(&b, "  (now %s)", p.Target)
		}
		b.WriteString("\n")
	}
	none(&b, len(f.Ports), "no port")
	_, err := io.WriteString(w, b.String())
	return err
}

func none(b *strings.Builder, n int, words string) {
	if n == 0 {
		b.WriteString("  " + words + "\n")
	}
}

func (f Found) writeBuses(b *strings.Builder) {
	b.WriteString("I2C\n")
	for _, bus := range f.Buses {
		fmt.Fprintln(b, strings.TrimRight(fmt.Sprintf("  i2c-%d  %s", bus.Number, bus.Name), " "))
		for _, p := range bus.Parts {
			words := p.Guess
			switch {
			case p.Driver != "":
				words = "held by the kernel's driver " + p.Driver
			case words == "":
				words = "answers"
			}
			fmt.Fprintf(b, "    0x%02x  %s\n", p.Addr, words)
		}
		switch {
		case bus.Problem != "":
			fmt.Fprintf(b, "    %s\n", bus.Problem)
		case !bus.Probed:
			b.WriteString("    not asked\n")
		case len(bus.Parts) == 0:
			b.WriteString("    nothing answers\n")
		}
	}
	none(b, len(f.Buses), "no bus; is I2C switched on in the board's configuration?")
}

func writeChip(b *strings.Builder, c Chip) {
	fmt.Fprintf(b, "  %s  %s, %d lines\n", c.Path, c.Label, len(c.Lines))
	if c.Problem != "" {
		fmt.Fprintf(b, "    %s\n", c.Problem)
	}
	for _, l := range c.Lines {
		if l.Name == "" && l.User == "" {
			continue
		}
		use := "free"
		if l.User != "" {
			use = "held by " + l.User
		}
		fmt.Fprintf(b, "    %3d  %-16s %s\n", l.Offset, l.Name, use)
	}
}
