// Package codec turns frames into a block of bytes and back, bit for bit. It
// looks for the grid that a converter's values lie on and keeps the codes, so
// a noisy reading costs about a byte; values without a grid are kept as they
// are. Whatever goes in comes out the same: any float64 with all its bits, any
// status, any time. A block ends with a checksum, and a damaged one is an
// error, never a wrong value.
//
// The package knows no file, no database and no clock, and it drops nothing:
// what may be left out is its callers' business.
//
// # A block
//
//	version                   1 byte, 1
//	frames                    uvarint
//	times, walls              two sections
//	channels                  uvarint, one bit each
//	status, values            two sections for each of them
//	checksum                  4 bytes, CRC-32C of all before
//
// A section is its length as a uvarint and that many bytes, so that one
// channel can be read without the others. All whole numbers go through one
// coder, see ints: the difference from a prediction, as an adaptive Rice code.
package codec
