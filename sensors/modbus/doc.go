// Package modbus reads registers of an energy meter or transmitter over a
// serial line as Modbus RTU master. It owns the frames and their checksum, the
// silences between them, the serial port's settings, repeats with back-off, and
// the map from registers to channels. It refuses everything that writes: it
// knows the function codes 3 and 4 and no other, so that no setting of a meter
// can be changed from here.
//
// A frame is found by its unit, function, length and checksum anywhere in what
// was received, so that an echo of our own request (two-wire adapters), noise
// before it or the tail of an older frame does no harm. The 1.5-character rule
// is not used to reject: USB adapters deliver one frame in pieces up to 16 ms
// apart. Modbus RTU answers carry no number, so a very late answer can look
// like the answer to the next question; after a time-out the line is therefore
// left alone for a whole time-out more and then emptied.
//
// Sources: Modbus application protocol V1.1b3; Modbus over serial line V1.02.
package modbus
