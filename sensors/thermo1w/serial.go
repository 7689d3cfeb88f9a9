package thermo1w

import (
	"fmt"
	"strconv"

	"periph.io/x/conn/v3/onewire"
)

// Serial is a sensor's serial number as the kernel writes it and as it may be
// printed on a tag: the family in two hexadecimal digits, a dash, and twelve
// more, for example "28-000000123456".
type Serial string

// families whose readings are sixteenths of a degree in the first two bytes.
// Family 10 counts half degrees in another way and is refused.
var families = map[byte]bool{0x28: true, 0x22: true, 0x42: true}

// Address returns the 64-bit ROM code of the serial: family, number and CRC.
// The error tells what is wrong with the text.
func (s Serial) Address() (onewire.Address, error) {
	const form = "write it as the kernel does, for example 28-000000123456"
	if len(s) != 15 || s[2] != '-' {
		return 0, fmt.Errorf("%q is no serial number of a 1-wire sensor: %s", string(s), form)
	}
	family, err := strconv.ParseUint(string(s[:2]), 16, 8)
	if err != nil {
		return 0, fmt.Errorf("%q is no serial number of a 1-wire sensor: %s", string(s), form)
	}
	number, err := strconv.ParseUint(string(s[3:]), 16, 48)
	if err != nil {
		return 0, fmt.Errorf("%q is no serial number of a 1-wire sensor: %s", string(s), form)
	}
	if !families[byte(family)] {
		return 0, fmt.Errorf("sensor %s is of family %02x: only 22, 28 and 42 are thermometers that can be read here", string(s), family)
	}
	code := number<<8 | family
	var rom [7]byte
	for i := range rom {
		rom[i] = byte(code >> (8 * i))
	}
	return onewire.Address(code | uint64(crc8(rom[:]))<<56), nil
}

// crc8 is the 1-wire checksum, x^8 + x^5 + x^4 + 1, lowest bit first. Over data
// with its checksum at the end it is 0. Source: Maxim application note 27.
func crc8(data []byte) (crc byte) {
	for _, b := range data {
		crc ^= b
		for range 8 {
			odd := crc & 1
			crc >>= 1
			if odd == 1 {
				crc ^= 0x8c
			}
		}
	}
	return crc
}
