package notify

import (
	"fmt"
	"net"
)

// maxPacket is the longest packet that is taken from a broker, in bytes. Who
// subscribes to nothing gets receipts of four.
const maxPacket = 64 << 10

// bounded is a connection to a broker whose packets are not longer than
// maxPacket. The library makes room for whatever length a packet names before
// it comes, up to 256 MiB (MQTT 3.1.1, 2.2.3), and a broker that is none or
// means ill would so end the whole program on a small board.
type bounded struct {
	net.Conn
	// digits is how many bytes of the length were read, -1 before the type of a
	// packet; length is what they say, and then what is still to come.
	digits, length int
}

func newBounded(c net.Conn) *bounded { return &bounded{Conn: c, digits: -1} }

// Read refuses a packet that is too long with its first bytes.
func (b *bounded) Read(into []byte) (int, error) {
	n, err := b.Conn.Read(into)
	for rest := into[:max(n, 0)]; len(rest) > 0; {
		used, bad := b.follow(rest)
		if bad != nil {
			return 0, bad
		}
		rest = rest[used:]
	}
	return n, err
}

// follow goes on by a byte of a header, or by what is here of a body.
func (b *bounded) follow(in []byte) (used int, err error) {
	switch {
	case b.digits < 0:
		b.digits, b.length = 0, 0
		return 1, nil
	case b.digits <= 3: // seven bits a byte, the lowest first, 2.2.3
		b.length |= int(in[0]&0x7f) << (7 * b.digits)
		b.digits++
		if b.length > maxPacket || b.digits == 4 && in[0] >= 0x80 {
			return 0, fmt.Errorf("it sends a packet that is longer than %d bytes: is it an MQTT broker?", maxPacket)
		}
		if in[0] < 0x80 {
			b.digits = 4 // the body comes
		}
		if b.digits == 4 && b.length == 0 {
			b.digits = -1
		}
		return 1, nil
	}
	used = min(b.length, len(in))
	if b.length -= used; b.length == 0 {
		b.digits = -1
	}
	return used, nil
}
