package hardware

import (
	"fmt"
	"sync"
	"time"

	"headroom/sensors/adc"
	"headroom/sensors/convert"
	"headroom/sensors/pulse"
)

// cell remembers what an input saw last.
type cell struct {
	mu     sync.Mutex
	seen   bool
	volt   float64
	signal float64
	unit   convert.Unit
}

// tapped is a converter whose input is remembered, good or bad.
type tapped struct {
	convert.Converter
	to *cell
}

// Convert implements convert.Converter.
func (t tapped) Convert(s convert.Signal) convert.Result {
	r := t.Converter.Convert(s)
	t.to.mu.Lock()
	t.to.seen, t.to.volt, t.to.signal, t.to.unit = true, s.VoltV, r.Signal, r.Unit
	t.to.mu.Unlock()
	return r
}

// words are the voltage at the terminals and what it stands for.
func (c *cell) words() string {
	c.mu.Lock()
	defer c.mu.Unlock()
	if !c.seen {
		return ""
	}
	out := fmt.Sprintf("%.4f V", c.volt)
	switch c.unit {
	case convert.UnitAmpere:
		out += fmt.Sprintf(", %.3f mA", 1e3*c.signal)
	case convert.UnitRatio:
		out += fmt.Sprintf(", %.1f %% of supply", 100*c.signal)
	case convert.UnitOhm:
		out += fmt.Sprintf(", %.4g ohm", c.signal)
	}
	return out
}

// waveWords are the peak and the crest of a current's last block.
func waveWords(d *adc.Driver, name string) string {
	for _, s := range d.Stats() {
		if s.Input == name && s.Blocks > 0 {
			return fmt.Sprintf("peak %.2f A, crest %.2f, %.0f/s", s.Wave.PeakA, s.Wave.Crest, s.RateHz)
		}
	}
	return ""
}

// pulseWords counts pulses from one look to the next.
type pulseWords struct {
	d *pulse.Driver

	mu     sync.Mutex
	before uint64
	at     time.Time
}

func (p *pulseWords) words() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	c, now := p.d.Counts(), time.Now()
	out := fmt.Sprintf("%d pulses", c.Pulses)
	if span := now.Sub(p.at).Seconds(); !p.at.IsZero() && span > 0 {
		out += fmt.Sprintf(", %.1f Hz", float64(c.Pulses-p.before)/span)
	}
	if c.Lost+c.Rejected > 0 {
		out += fmt.Sprintf(", %d lost, %d rejected", c.Lost, c.Rejected)
	}
	p.before, p.at = c.Pulses, now
	return out
}
