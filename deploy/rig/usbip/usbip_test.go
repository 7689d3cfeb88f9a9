package usbip

import (
	"encoding/binary"
	"io"
	"net"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/require"
)

// echo is a chip that stores one byte.
type echo struct{ b byte }

func (e *echo) Start(bool) bool   { return true }
func (e *echo) Write(b byte) bool { e.b = b; return true }
func (e *echo) Read() byte        { return e.b }
func (e *echo) Stop()             {}

// submit is a command as vhci_hcd sends it (usbip_protocol.rst, table of
// USBIP_CMD_SUBMIT).
func submit(seq uint32, in bool, request byte, value, index, length uint16, out ...byte) []byte {
	be := binary.BigEndian
	h := make([]byte, 48)
	be.PutUint32(h[0:], 1)
	be.PutUint32(h[4:], seq)
	kind := byte(0x40)
	if in {
		be.PutUint32(h[12:], 1)
		kind = 0xc0
	}
	be.PutUint32(h[24:], uint32(length))
	h[40], h[41] = kind, request
	binary.LittleEndian.PutUint16(h[42:], value)
	binary.LittleEndian.PutUint16(h[44:], index)
	binary.LittleEndian.PutUint16(h[46:], length)
	return append(h, out...)
}

func unlink(seq, victim uint32) []byte {
	h := make([]byte, 48)
	binary.BigEndian.PutUint32(h[0:], 2)
	binary.BigEndian.PutUint32(h[4:], seq)
	binary.BigEndian.PutUint32(h[20:], victim)
	return h
}

type line struct {
	t *testing.T
	net.Conn
}

func connect(t *testing.T, a *Adapter) line {
	ours, theirs := net.Pipe()
	go func() { _ = Serve(theirs, a); theirs.Close() }()
	return line{t, ours}
}

// ask sends and returns command, status and data of the answer.
func (l line) ask(b []byte, data int) (command uint32, status int32, in []byte) {
	_, err := l.Write(b)
	require.NoError(l.t, err)
	return l.take(data)
}

func (l line) take(data int) (command uint32, status int32, in []byte) {
	r := make([]byte, 48+data)
	_, err := io.ReadFull(l, r)
	require.NoError(l.t, err)
	return binary.BigEndian.Uint32(r), int32(binary.BigEndian.Uint32(r[20:])), r[48:]
}

func TestTransfersReachTheChip(t *testing.T) {
	a := NewAdapter()
	a.Place(0x48, &echo{})
	l := connect(t, a)
	defer l.Close()
	_, status, _ := l.ask(submit(1, false, 7, 0, 0x48, 1, 0x5a), 0)
	require.Zero(t, status)
	_, status, in := l.ask(submit(2, true, 7, 1, 0x48, 1), 1)
	require.Zero(t, status)
	require.Equal(t, []byte{0x5a}, in)
	_, _, in = l.ask(submit(3, true, 3, 0, 0, 1), 1)
	require.Equal(t, []byte{statusAck}, in)
	l.ask(submit(4, false, 7, 0, 0x49, 1, 0), 0)
	_, _, in = l.ask(submit(5, true, 3, 0, 0, 1), 1)
	require.Equal(t, []byte{statusNack}, in, "nobody at 0x49")
	_, status, _ = l.ask(submit(6, true, 99, 0, 0, 1), 0)
	require.EqualValues(t, -32, status, "an unknown request stalls")
	require.Equal(t, 3, a.Transfers())
}

func TestAStuckTransferCanBeUnlinked(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a := NewAdapter()
		a.Place(0x48, &echo{})
		a.Stick()
		l := connect(t, a)
		defer l.Close()
		_, err := l.Write(submit(1, true, 7, 1, 0x48, 1))
		require.NoError(t, err)
		synctest.Wait()
		command, status, _ := l.ask(unlink(2, 1), 0)
		require.EqualValues(t, retUnlink, command)
		require.EqualValues(t, -104, status)
		_, status, _ = l.ask(unlink(3, 1), 0)
		require.Zero(t, status, "what is gone can't be unlinked again")
		_, err = l.Write(submit(4, true, 7, 1, 0x48, 1))
		require.NoError(t, err)
		synctest.Wait()
		a.Release()
		command, status, _ = l.take(1)
		require.EqualValues(t, retSubmit, command)
		require.Zero(t, status, "after the release answers come again")
	})
}
