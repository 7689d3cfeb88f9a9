package nbd

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"net"
)

// Numbers of the protocol.
const (
	magicServer  = 0x4e42444d41474943 // NBDMAGIC
	magicOption  = 0x49484156454f5054 // IHAVEOPT
	magicReply   = 0x3e889045565a9
	magicRequest = 0x25609513
	magicAnswer  = 0x67446698

	handshakeFlags = 1 | 2 // fixed newstyle, no zeroes
	optionExport   = 1
	optionAbort    = 2
	optionGo       = 7
	replyAck       = 1
	replyInfo      = 3
	replyUnknown   = 1<<31 | 1

	flagHas, flagFlush, flagForce                  = 1, 4, 8
	cmdRead, cmdWrite, cmdDisconnect, cmdFlush     = 0, 1, 2, 3
	requestForced                                  = 1
	errnoIO, errnoInvalid, errnoNoSpace, errnoNone = 5, 22, 28, 0

	maxRequest = 32 << 20
	maxOption  = 4096
)

// Listen serves d on l, one client after another, until l is closed or the
// disk's power is cut; a cut also closes the client's connection.
func Listen(l net.Listener, d *Disk) error {
	for {
		c, err := l.Accept()
		if err != nil {
			return err
		}
		err = serveUntilCut(c, d)
		if errors.Is(err, ErrOff) {
			return err
		}
	}
}

// serveUntilCut closes c when the power is cut, even between two requests.
func serveUntilCut(c net.Conn, d *Disk) error {
	defer c.Close()
	left := make(chan struct{})
	defer close(left)
	go func() {
		select {
		case <-d.Off():
			c.Close()
		case <-left:
		}
	}()
	return Serve(c, d)
}

// Serve speaks to one client until it leaves (nil), the power is cut (ErrOff)
// or the connection breaks.
func Serve(c io.ReadWriter, d *Disk) error {
	if err := handshake(c, d.Size()); err != nil {
		return err
	}
	for {
		more, err := request(c, d)
		if err != nil || !more {
			return err
		}
	}
}

var errAbort = errors.New("the client gave up during the handshake")

func handshake(c io.ReadWriter, size int64) error {
	be := binary.BigEndian
	hello := be.AppendUint64(nil, magicServer)
	hello = be.AppendUint64(hello, magicOption)
	hello = be.AppendUint16(hello, handshakeFlags)
	if _, err := c.Write(hello); err != nil {
		return err
	}
	var flags [4]byte
	if _, err := io.ReadFull(c, flags[:]); err != nil {
		return err
	}
	for {
		done, err := option(c, size)
		if err != nil || done {
			return err
		}
	}
}

// option answers one option of the handshake; done when the disk was chosen.
func option(c io.ReadWriter, size int64) (done bool, err error) {
	be := binary.BigEndian
	var h [16]byte
	if _, err := io.ReadFull(c, h[:]); err != nil {
		return false, err
	}
	if be.Uint64(h[:]) != magicOption || be.Uint32(h[12:]) > maxOption {
		return false, fmt.Errorf("the client's option is not of this protocol")
	}
	number := be.Uint32(h[8:])
	if _, err := io.CopyN(io.Discard, c, int64(be.Uint32(h[12:]))); err != nil {
		return false, err
	}
	transmission := be.AppendUint16(be.AppendUint64(nil, uint64(size)), flagHas|flagFlush|flagForce)
	switch number {
	case optionExport:
		_, err := c.Write(transmission)
		return true, err
	case optionAbort:
		return false, errAbort
	case optionGo:
		info := append([]byte{0, 0}, transmission...)
		b := reply(nil, number, replyInfo, info)
		_, err := c.Write(reply(b, number, replyAck, nil))
		return true, err
	}
	_, err = c.Write(reply(nil, number, replyUnknown, nil))
	return false, err
}

func reply(b []byte, option, kind uint32, data []byte) []byte {
	be := binary.BigEndian
	b = be.AppendUint64(b, magicReply)
	b = be.AppendUint32(b, option)
	b = be.AppendUint32(b, kind)
	return append(be.AppendUint32(b, uint32(len(data))), data...)
}

// request serves one request; more is false when the client leaves.
func request(c io.ReadWriter, d *Disk) (more bool, err error) {
	be := binary.BigEndian
	var h [28]byte
	if _, err := io.ReadFull(c, h[:]); err != nil {
		return false, err
	}
	flags, command := be.Uint16(h[4:]), be.Uint16(h[6:])
	offset, length := int64(be.Uint64(h[16:])), be.Uint32(h[24:])
	if be.Uint32(h[:]) != magicRequest || length > maxRequest {
		return false, fmt.Errorf("the client's request is not of this protocol")
	}
	var data []byte
	switch command {
	case cmdRead:
		data = make([]byte, length)
		err = d.Read(data, offset)
	case cmdWrite:
		b := make([]byte, length)
		if _, err := io.ReadFull(c, b); err != nil {
			return false, err
		}
		err = d.Write(b, offset, flags&requestForced != 0)
	case cmdFlush:
		err = d.Flush()
	case cmdDisconnect:
		return false, nil
	default:
		err = ErrRange
	}
	if errors.Is(err, ErrOff) {
		return false, err
	}
	if err != nil {
		data = nil
	}
	answer := be.AppendUint32(nil, magicAnswer)
	answer = be.AppendUint32(answer, number(err))
	answer = append(answer, h[8:16]...)
	_, err = c.Write(append(answer, data...))
	return true, err
}

func number(err error) uint32 {
	switch {
	case err == nil:
		return errnoNone
	case errors.Is(err, ErrNoSpace):
		return errnoNoSpace
	case errors.Is(err, ErrRange):
		return errnoInvalid
	}
	return errnoIO
}
