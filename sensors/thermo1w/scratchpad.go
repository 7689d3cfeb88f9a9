package thermo1w

import (
	"fmt"
	"math"

	"headroom/rules/frame"
	"headroom/rules/units"
)

const (
	scratchSize = 9
	// powerOnMilliC is what the part holds before its first conversion; see
	// the data sheet. A true 85.000 °C can't be told from it, and in water a
	// jetter may be fed it is far beyond every limit anyway.
	powerOnMilliC = 85_000
	// lowMilliC and highMilliC are the range of the part by its data sheet.
	lowMilliC, highMilliC = -55_000, 125_000
)

// decode returns the temperature in thousandths of a degree Celsius of a
// scratchpad, after all its checks.
func decode(pad [scratchSize]byte) (milliC float64, fault *Fault) {
	if pad == [scratchSize]byte{} {
		return 0, errLow // its CRC is right, which is the trap
	}
	if crc8(pad[:]) != 0 {
		return 0, errCRC
	}
	raw := int16(uint16(pad[1])<<8 | uint16(pad[0]))
	return plausible(float64(raw) * 1000 / 16)
}

// plausible refuses the power-on value and what the part can't give.
func plausible(milliC float64) (float64, *Fault) {
	if math.Abs(milliC-powerOnMilliC) < 0.5 {
		return 0, errPowerOn
	}
	if milliC < lowMilliC || milliC > highMilliC {
		return 0, &Fault{frame.OutOfBand, fmt.Sprintf("%.1f °C is outside the sensor's range of -55 to 125 °C", milliC/1000)}
	}
	return milliC, nil
}

// kelvin converts thousandths of a degree Celsius.
func kelvin(milliC float64) float64 {
	c, _ := units.Lookup(units.Temperature, "°C") // is in the table; a test says so
	return c.ToSI(milliC / 1000)
}
