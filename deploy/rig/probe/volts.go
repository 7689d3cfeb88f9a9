//go:build rig && linux

package main

import (
	"errors"
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/host/v3/sysfs"
)

// volts reads the converter's four inputs over and over with nothing between
// it and periph: what the kernel does with a broken bus, without a driver's
// opinion. It opens the bus anew after each error, as a driver must, since the
// kernel can't let go of an unplugged adapter that a program holds open.
func volts(a arguments) error {
	for {
		if err := readBus(a.number(0)); err != nil {
			fmt.Printf("volts error: %v\n", err)
		}
		time.Sleep(100 * time.Millisecond)
	}
}

// both reads the bus and holds an output, as the daemon does.
func both(a arguments) error {
	go func() {
		if err := volts(a[1:]); err != nil {
			fmt.Println("probe failed:", err)
		}
	}()
	return hold(a)
}

func readBus(number int) error {
	bus, err := sysfs.NewI2C(number)
	if err != nil {
		return err
	}
	defer bus.Close()
	for {
		begin := time.Now()
		var v [4]float64
		for ch := range v {
			if v[ch], err = convertOnce(&i2c.Dev{Bus: bus, Addr: 0x48}, ch); err != nil {
				return fmt.Errorf("after %.2f s: %w", time.Since(begin).Seconds(), err)
			}
		}
		fmt.Printf("volts %.4f %.4f %.4f %.4f in %.1f ms\n", v[0], v[1], v[2], v[3], time.Since(begin).Seconds()*1000)
		time.Sleep(50 * time.Millisecond)
	}
}

// convertOnce does one single-shot conversion at 4.096 V full scale, 860 a second.
func convertOnce(d *i2c.Dev, ch int) (float64, error) {
	config := uint16(1<<15 | (4+ch)<<12 | 1<<9 | 1<<8 | 7<<5 | 3)
	if err := d.Tx([]byte{1, byte(config >> 8), byte(config)}, nil); err != nil {
		return 0, err
	}
	r := make([]byte, 2)
	for range 50 {
		if err := d.Tx([]byte{1}, r); err != nil {
			return 0, err
		}
		if r[0]&0x80 != 0 {
			err := d.Tx([]byte{0}, r)
			return float64(int16(uint16(r[0])<<8|uint16(r[1]))) * 4.096 / 32768, err
		}
	}
	return 0, errors.New("the conversion doesn't end")
}
