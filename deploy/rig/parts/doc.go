// Package parts holds behavioural models of the chips a headroom board is
// built from, as their buses see them: a four-channel converter (ADS1115), a
// bridge from I2C to 1-wire (DS2482) and the thermometers behind it (DS18B20).
// They answer byte by byte, or bit by bit, what the data sheets say, and they
// can be broken on purpose. They own no bus and no test; whatever the data
// sheets leave open they leave out.
//
// Sources: TI SBAS444 (ADS1113/4/5), Maxim 19-4930 (DS2482-100), Maxim 19-7487
// (DS18B20), Maxim application note 27 (1-wire CRC).
package parts
