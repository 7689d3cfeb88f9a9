package thermo1w

import (
	"encoding/hex"
	"math"
	"strconv"
	"strings"
)

// parseSlave reads the text of a w1_slave file: two lines with the scratchpad,
// the first with the kernel's verdict on the checksum, the second with the
// temperature. The kernel's verdict, our own checksum and both temperatures
// must agree.
func parseSlave(text string) (milliC float64, fault *Fault) {
	text = strings.TrimSpace(text)
	if text == "" {
		return 0, errEmpty
	}
	first, second, two := strings.Cut(text, "\n")
	bytes, verdict, found := strings.Cut(first, ":")
	if !two || !found {
		return 0, garbled("w1_slave has not the form it should")
	}
	pad, err := hex.DecodeString(strings.Join(strings.Fields(bytes), ""))
	if err != nil || len(pad) != scratchSize {
		return 0, garbled("w1_slave has no nine bytes")
	}
	if !strings.HasSuffix(strings.TrimSpace(verdict), " YES") {
		return 0, errCRC
	}
	milliC, fault = decode([scratchSize]byte(pad))
	if fault != nil {
		return 0, fault
	}
	_, said, found := strings.Cut(second, "t=")
	t, err := strconv.ParseInt(strings.TrimSpace(said), 10, 32)
	if !found || err != nil {
		return 0, garbled("w1_slave gives no temperature")
	}
	// One step of the part apart at most: some kernels round, some cut.
	if math.Abs(float64(t)-milliC) > 1000/16. {
		return 0, garbled("the bytes and the temperature in w1_slave differ")
	}
	return milliC, nil
}

// parseTemperature reads the text of a temperature file: thousandths of a
// degree and nothing else. It carries no checksum; the kernel has checked one.
func parseTemperature(text string) (milliC float64, fault *Fault) {
	text = strings.TrimSpace(text)
	if text == "" {
		return 0, errEmpty
	}
	t, err := strconv.ParseInt(text, 10, 32)
	if err != nil {
		return 0, garbled("temperature is no number")
	}
	return plausible(float64(t))
}
