// Package thermo1w reads 1-wire thermometers of the DS18B20 kind: through the
// files of the kernel's w1_therm driver, or through a 1-wire bus of periph. It
// owns the check of everything that such a part and its wire get wrong: a
// checksum that fails, an empty answer (which the kernel gives without any
// error when a sensor is pulled off), a wire held low that reads as a perfect
// 0 °C, and the power-on value of exactly 85 °C that is no measurement. It
// refuses to find sensors by order: each channel names its sensor's serial
// number, so that two hoses can't change places after a repair.
//
// A conversion takes up to 750 ms at 12 bit. Each read runs in a goroutine of
// its own with a limit; if the kernel never comes back, that one goroutine is
// left behind and no second one is started.
//
// Sources: the DS18B20 data sheet (scratchpad, commands, power-on value);
// Maxim application note 27 (CRC); kernel documentation of w1_therm. The empty
// answer was measured on kernels 6.1 and 6.12.
package thermo1w
