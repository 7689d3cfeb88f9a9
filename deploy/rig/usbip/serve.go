package usbip

import (
	"encoding/binary"
	"fmt"
	"io"
	"sync"
)

// Commands of the protocol and the errno values it carries, negated.
const (
	cmdSubmit, cmdUnlink = 1, 2
	retSubmit, retUnlink = 3, 4
	headerBytes          = 48
	statusStall          = -32  // EPIPE
	statusUnlinked       = -104 // ECONNRESET
	maxTransfer          = 1 << 16
)

// Device answers control transfers.
type Device interface {
	// Control handles one transfer: setup is the 8-byte request, out the data
	// sent along. It returns the data for the host and false for a stall. stop
	// is closed when the host gives the transfer up or unplugs the device; a
	// device that withholds its answer must return then.
	Control(setup [8]byte, out []byte, stop <-chan struct{}) (in []byte, ok bool)
}

// transfer is one submitted request on its way through the device.
type transfer struct {
	seq    uint32
	in     bool
	length uint32
	ep     uint32
	setup  [8]byte
	out    []byte
	stop   chan struct{}
	once   sync.Once
}

func (t *transfer) abandon() { t.once.Do(func() { close(t.stop) }) }

// link serves one connection: a reader that also answers unlinks at once,
// and one worker, since a device handles one control transfer at a time.
type link struct {
	conn    io.ReadWriter
	dev     Device
	mu      sync.Mutex // guards pending and writes
	pending map[uint32]*transfer
	queue   chan *transfer
}

// Serve speaks for dev on conn until the connection ends, and returns why. A
// transfer that the device withholds can be unlinked meanwhile, as from a real
// device that doesn't answer: only then does the kernel's own time-out show.
func Serve(conn io.ReadWriter, dev Device) error {
	s := &link{conn: conn, dev: dev, pending: map[uint32]*transfer{}, queue: make(chan *transfer, 64)}
	done := make(chan struct{})
	go func() { defer close(done); s.work() }()
	err := s.read()
	s.mu.Lock()
	for _, t := range s.pending {
		t.abandon()
	}
	s.mu.Unlock()
	close(s.queue)
	<-done
	return err
}

func (s *link) read() error {
	for {
		var h [headerBytes]byte
		if _, err := io.ReadFull(s.conn, h[:]); err != nil {
			return err
		}
		var err error
		switch cmd := binary.BigEndian.Uint32(h[0:]); cmd {
		case cmdSubmit:
			err = s.submit(h)
		case cmdUnlink:
			err = s.unlink(h)
		default:
			err = fmt.Errorf("USB/IP command %d is unknown", cmd)
		}
		if err != nil {
			return err
		}
	}
}

func (s *link) submit(h [headerBytes]byte) error {
	be := binary.BigEndian
	t := &transfer{seq: be.Uint32(h[4:]), in: be.Uint32(h[12:]) == 1, ep: be.Uint32(h[16:]), length: be.Uint32(h[24:]), stop: make(chan struct{})}
	copy(t.setup[:], h[40:])
	if t.length > maxTransfer {
		return fmt.Errorf("USB/IP transfer of %d bytes is too long", t.length)
	}
	if !t.in && t.length > 0 {
		t.out = make([]byte, t.length)
		if _, err := io.ReadFull(s.conn, t.out); err != nil {
			return err
		}
	}
	s.mu.Lock()
	s.pending[t.seq] = t
	s.mu.Unlock()
	s.queue <- t
	return nil
}

// unlink gives a pending transfer up. Status 0 says that it was too late and
// that the answer is already on its way.
func (s *link) unlink(h [headerBytes]byte) error {
	be := binary.BigEndian
	s.mu.Lock()
	defer s.mu.Unlock()
	var r [headerBytes]byte
	be.PutUint32(r[0:], retUnlink)
	copy(r[4:8], h[4:8])
	if t := s.pending[be.Uint32(h[20:])]; t != nil {
		delete(s.pending, t.seq)
		t.abandon()
		unlinked := int32(statusUnlinked)
		be.PutUint32(r[20:], uint32(unlinked))
	}
	_, err := s.conn.Write(r[:])
	return err
}

func (s *link) work() {
	for t := range s.queue {
		var in []byte
		ok := false
		if t.ep == 0 {
			in, ok = s.dev.Control(t.setup, t.out, t.stop)
		}
		s.answer(t, in, ok)
	}
}

func (s *link) answer(t *transfer, in []byte, ok bool) {
	be := binary.BigEndian
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.pending[t.seq] != t {
		return
	}
	delete(s.pending, t.seq)
	r := make([]byte, headerBytes)
	be.PutUint32(r[0:], retSubmit)
	be.PutUint32(r[4:], t.seq)
	switch {
	case !ok:
		stall := int32(statusStall)
		be.PutUint32(r[20:], uint32(stall))
	case t.in:
		in = in[:min(len(in), int(t.length))]
		be.PutUint32(r[24:], uint32(len(in)))
		r = append(r, in...)
	default:
		be.PutUint32(r[24:], t.length)
	}
	// A failed write means the connection ended; the reader reports it.
	_, _ = s.conn.Write(r)
}
