package modbus

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"headroom/rules/frame"
	"headroom/rules/units"
)

// Point is one value in a unit's registers and the channel it feeds.
type Point struct {
	// Unit is the slave's number, 1 to 247.
	Unit byte
	// Table holds the register.
	Table Table
	// Register counts from 0, as on the wire. Manuals that count from 1, or
	// from 30001 and 40001, are off by that.
	Register uint16
	// Type and Order tell how the value lies there.
	Type  Type
	Order WordOrder
	// Scale and Offset give the measured value: registers x Scale + Offset.
	// Scale 0 stands for 1.
	Scale, Offset float64
	// Symbol is the unit of the measured value, for example "V" or "bar"; see
	// units.Symbols. It must suit the channel.
	Symbol string
	// NotAvailable lists the bits with which this unit says that it has no
	// value, for example 0x8000 or 0x7fffffff. NaN always says so.
	NotAvailable []uint32
	// Channel is fed with the value in SI.
	Channel frame.Channel
}

// Options of the units on one serial line. Zero values take the default that
// stands with the field.
type Options struct {
	// Name of the line for logs.
	Name string
	// Open opens the line anew for each run; Serial.Open does.
	Open func() (Port, error)
	// Baud is the line's rate, for the silences; 1200 to 115200.
	Baud int
	// Points to read, at least one.
	Points []Point
	// Period from the start of one round over all points to the next, 50 ms to
	// 60 s; default 500 ms.
	Period time.Duration
	// Limit for the first byte of an answer, 20 ms to 2 s; default 300 ms.
	Limit time.Duration
	// Tries for one point in one round, 1 to 4; default 2.
	Tries int
}

func (o Options) withDefaults() Options {
	if o.Period == 0 {
		o.Period = 500 * time.Millisecond
	}
	if o.Limit == 0 {
		o.Limit = 300 * time.Millisecond
	}
	if o.Tries == 0 {
		o.Tries = 2
	}
	o.Points = append([]Point(nil), o.Points...)
	for i := range o.Points {
		if o.Points[i].Scale == 0 {
			o.Points[i].Scale = 1
		}
	}
	return o
}

func (o Options) check() error {
	switch {
	case o.Open == nil:
		return errors.New("option Open is missing: give the Open of a Serial")
	case o.Baud < 1200 || o.Baud > 115_200:
		return fmt.Errorf("option Baud is %d: it must be 1200 to 115200", o.Baud)
	case len(o.Points) == 0:
		return errors.New("option Points is empty: name at least one register")
	case o.Period < 50*time.Millisecond || o.Period > time.Minute:
		return fmt.Errorf("option Period is %v: it must be 50ms to 1m", o.Period)
	case o.Limit < 20*time.Millisecond || o.Limit > 2*time.Second:
		return fmt.Errorf("option Limit is %v: it must be 20ms to 2s", o.Limit)
	case o.Tries < 1 || o.Tries > 4:
		return fmt.Errorf("option Tries is %d: it must be 1 to 4", o.Tries)
	}
	var seen [frame.NumChannels]bool
	for _, p := range o.Points {
		if err := p.check(); err != nil {
			return err
		}
		if seen[p.Channel] {
			return fmt.Errorf("two points feed the channel %s: one must go", p.Channel)
		}
		seen[p.Channel] = true
	}
	return nil
}

func (p Point) check() error {
	if p.Channel >= frame.NumChannels {
		return fmt.Errorf("register %d of unit %d feeds no channel that exists", p.Register, p.Unit)
	}
	switch {
	case p.Unit < 1 || p.Unit > 247:
		return fmt.Errorf("unit %d for %s: a unit has a number from 1 to 247", p.Unit, p.Channel)
	case p.Table != Holding && p.Table != Input:
		return fmt.Errorf("table %d for %s: only holding (3) and input registers (4) are read", p.Table, p.Channel)
	case p.Type >= numTypes:
		return fmt.Errorf("type %d for %s is not one of %s", p.Type, p.Channel, strings.Join(typeNames[:], ", "))
	case p.Order > LowFirst:
		return fmt.Errorf("word order %d for %s is not high or low first", p.Order, p.Channel)
	case int(p.Register)+int(p.Type.registers()) > 1<<16:
		return fmt.Errorf("register %d for %s: a %s does not fit there", p.Register, p.Channel, p.Type)
	case bad(p.Scale) || bad(p.Offset):
		return fmt.Errorf("scale %g and offset %g for %s must be finite", p.Scale, p.Offset, p.Channel)
	}
	if _, ok := units.Lookup(p.Channel.Quantity(), p.Symbol); !ok {
		return fmt.Errorf("the unit %q for %s is not one of %s", p.Symbol, p.Channel, strings.Join(units.Symbols(p.Channel.Quantity()), ", "))
	}
	return nil
}

func bad(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) }
