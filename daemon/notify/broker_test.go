package notify

import (
	"bufio"
	"encoding/binary"
	"errors"
	"io"
	"net"
	"sync"
)

// Packet types of MQTT 3.1.1, table 2.1.
const (
	pktConnect    = 1
	pktConnack    = 2
	pktPublish    = 3
	pktPuback     = 4
	pktPingreq    = 12
	pktPingresp   = 13
	pktDisconnect = 14
)

// broker is as much of an MQTT 3.1.1 broker as a publisher needs, written from
// the standard (OASIS MQTT 3.1.1) so that the library isn't checked against
// itself. It keeps retained messages and publishes wills.
type broker struct {
	mu       sync.Mutex
	retained map[string]string
	log      []string // everything published, "topic=body"
	connects []connectPacket
	odd      []string // what a publisher must not send
	refuse   byte     // CONNACK code
	deaf     bool     // takes publishes and sends no receipts
	silent   bool     // doesn't answer pings
	stuck    bool     // reads no more, and leaves the connection open
}

// connectPacket is a CONNECT (3.1).
type connectPacket struct {
	version                    byte
	clean, retain              bool
	qos                        byte
	keepAlive                  uint16
	client, topic, body        string
	user, password             string
	hasWill, hasUser, hasPassw bool
}

func newBroker() *broker { return &broker{retained: map[string]string{}} }

func (b *broker) serve(l net.Listener) {
	for {
		c, err := l.Accept()
		if err != nil {
			return
		}
		go b.session(c)
	}
}

func (b *broker) session(c net.Conn) {
	defer func() {
		if !b.isStuck() {
			_ = c.Close()
		}
	}()
	r := bufio.NewReader(c)
	typ, _, body, err := readPacket(r)
	if err != nil || typ != pktConnect {
		return
	}
	con := parseConnect(body)
	b.mu.Lock()
	b.connects = append(b.connects, con)
	code := b.refuse
	b.mu.Unlock()
	if _, err := c.Write([]byte{pktConnack << 4, 2, 0, code}); err != nil || code != 0 {
		return
	}
	if b.talk(c, r) || !con.hasWill {
		return
	}
	b.publish(con.topic, con.body, con.retain) // 3.1.2.5: the will, as there was no DISCONNECT
}

// talk reads until the session ends; clean is true after a DISCONNECT.
func (b *broker) talk(c net.Conn, r *bufio.Reader) (clean bool) {
	for {
		typ, flags, body, err := readPacket(r)
		if err != nil {
			return false
		}
		b.mu.Lock()
		deaf, silent, stuck := b.deaf, b.silent, b.stuck
		b.mu.Unlock()
		if stuck {
			return false
		}
		switch typ {
		case pktPublish:
			if id := b.take(flags, body); !deaf {
				_, err = c.Write(append([]byte{pktPuback << 4, 2}, id...))
			}
		case pktPingreq:
			if !silent {
				_, err = c.Write([]byte{pktPingresp << 4, 0})
			}
		case pktDisconnect:
			return true
		default:
			b.note("packet type not for a publisher")
		}
		if err != nil {
			return false
		}
	}
}

// take reads a PUBLISH (3.3) and returns its packet identifier.
func (b *broker) take(flags byte, body []byte) []byte {
	topic, rest := str(body)
	if flags>>1&3 != 1 || flags&1 != 1 {
		b.note("publish that isn't QoS 1 and retained: " + topic)
		return []byte{0, 0}
	}
	b.publish(topic, string(rest[2:]), true)
	return rest[:2]
}

func (b *broker) publish(topic, body string, retain bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.log = append(b.log, topic+"="+body)
	if retain {
		b.retained[topic] = body
	}
}

func (b *broker) note(what string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.odd = append(b.odd, what)
}

func (b *broker) edit(f func()) {
	b.mu.Lock()
	defer b.mu.Unlock()
	f()
}

func (b *broker) isStuck() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.stuck
}

func (b *broker) keeps(topic string) string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.retained[topic]
}

// readPacket reads a fixed header (2.2) and what follows it.
func readPacket(r *bufio.Reader) (typ, flags byte, body []byte, err error) {
	first, err := r.ReadByte()
	if err != nil {
		return 0, 0, nil, err
	}
	n, err := binary.ReadUvarint(r) // 2.2.3 has the same coding
	if err != nil {
		return 0, 0, nil, err
	}
	if n > 1<<20 {
		return 0, 0, nil, errors.New("packet too long")
	}
	body = make([]byte, n)
	_, err = io.ReadFull(r, body)
	return first >> 4, first & 15, body, err
}

// str reads a string with its length in front (1.5.3).
func str(b []byte) (s string, rest []byte) {
	n := binary.BigEndian.Uint16(b)
	return string(b[2 : 2+n]), b[2+n:]
}

func parseConnect(b []byte) connectPacket {
	name, b := str(b)
	if name != "MQTT" {
		return connectPacket{}
	}
	flags := b[1]
	p := connectPacket{
		version: b[0], clean: flags&2 != 0, hasWill: flags&4 != 0, qos: flags >> 3 & 3, retain: flags&0x20 != 0,
		hasPassw: flags&0x40 != 0, hasUser: flags&0x80 != 0, keepAlive: binary.BigEndian.Uint16(b[2:]),
	}
	p.client, b = str(b[4:])
	if p.hasWill {
		p.topic, b = str(b)
		p.body, b = str(b)
	}
	if p.hasUser {
		p.user, b = str(b)
	}
	if p.hasPassw {
		p.password, _ = str(b)
	}
	return p
}
