package nbd

import (
	"encoding/binary"
	"io"
	"net"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"headroom/deploy/testneed"
)

// dial shakes hands by the protocol's document and returns the connection.
func dial(t *testing.T, d *Disk) (net.Conn, chan error) {
	client, server := net.Pipe()
	done := make(chan error, 1)
	go func() { done <- Serve(server, d); server.Close() }()
	t.Cleanup(func() { client.Close() })
	require.NoError(t, client.SetDeadline(time.Now().Add(10*time.Second)))
	hello := make([]byte, 18)
	_, err := io.ReadFull(client, hello)
	require.NoError(t, err)
	require.Equal(t, "NBDMAGICIHAVEOPT", string(hello[:16]))
	send(t, client, []byte{0, 0, 0, 3})
	send(t, client, option32(3, nil)) // list, not offered
	require.Equal(t, uint32(replyUnknown), binary.BigEndian.Uint32(take(t, client, 20)[12:]))
	send(t, client, option32(optionGo, []byte{0, 0, 0, 0, 0, 0}))
	info := take(t, client, 20+12)
	require.EqualValues(t, d.Size(), binary.BigEndian.Uint64(info[22:]))
	require.EqualValues(t, replyAck, binary.BigEndian.Uint32(take(t, client, 20)[12:]))
	return client, done
}

func option32(number uint32, data []byte) []byte {
	b := append([]byte("IHAVEOPT"), 0, 0, 0, byte(number))
	return append(binary.BigEndian.AppendUint32(b, uint32(len(data))), data...)
}

func send(t *testing.T, c net.Conn, b []byte) {
	_, err := c.Write(b)
	require.NoError(t, err)
}

func take(t *testing.T, c net.Conn, n int) []byte {
	b := make([]byte, n)
	_, err := io.ReadFull(c, b)
	require.NoError(t, err)
	return b
}

func ask(flags, command uint16, offset uint64, length uint32, data []byte) []byte {
	be := binary.BigEndian
	b := be.AppendUint32(nil, 0x25609513)
	b = be.AppendUint16(b, flags)
	b = be.AppendUint16(b, command)
	b = be.AppendUint64(b, 7)
	b = be.AppendUint64(b, offset)
	return append(be.AppendUint32(b, length), data...)
}

func answer(t *testing.T, c net.Conn) uint32 {
	b := take(t, c, 16)
	require.EqualValues(t, 0x67446698, binary.BigEndian.Uint32(b))
	require.EqualValues(t, 7, binary.BigEndian.Uint64(b[8:]))
	return binary.BigEndian.Uint32(b[4:])
}

func TestServeWritesReadsFlushes(t *testing.T) {
	d := NewDisk(make([]byte, 4*SectorBytes), 1, Faults{})
	c, done := dial(t, d)
	send(t, c, ask(0, cmdWrite, 512, 512, filled(512, 9)))
	require.Zero(t, answer(t, c))
	send(t, c, ask(0, cmdFlush, 0, 0, nil))
	require.Zero(t, answer(t, c))
	send(t, c, ask(0, cmdRead, 512, 512, nil))
	require.Zero(t, answer(t, c))
	require.Equal(t, filled(512, 9), take(t, c, 512))
	send(t, c, ask(0, cmdRead, 4*512, 1, nil))
	require.EqualValues(t, 22, answer(t, c))
	d.SetFaults(Faults{FullAtWrite: 1})
	send(t, c, ask(requestForced, cmdWrite, 0, 512, filled(512, 9)))
	require.EqualValues(t, 28, answer(t, c))
	d.SetFaults(Faults{FailFlush: 1})
	send(t, c, ask(0, cmdFlush, 0, 0, nil))
	require.EqualValues(t, 5, answer(t, c))
	send(t, c, ask(0, cmdDisconnect, 0, 0, nil))
	require.NoError(t, <-done)
}

func TestACutClosesTheLine(t *testing.T) {
	d := NewDisk(make([]byte, 4*SectorBytes), 1, Faults{CutAtFlush: 1})
	c, done := dial(t, d)
	send(t, c, ask(0, cmdFlush, 0, 0, nil))
	require.ErrorIs(t, <-done, ErrOff)
	_, err := c.Read(make([]byte, 1))
	require.ErrorIs(t, err, io.EOF, "no answer to the request that the cut met")
}

// QEMU's own client is the one that matters; qemu-io speaks to us as it does.
func TestAgainstAnotherClient(t *testing.T) {
	qemuIO := testneed.Program(t, "qemu-utils", "qemu-io")
	d := NewDisk(make([]byte, 64*SectorBytes), 1, Faults{})
	socket := filepath.Join(t.TempDir(), "nbd.sock")
	l, err := net.Listen("unix", socket)
	require.NoError(t, err)
	defer l.Close()
	go func() { _ = Listen(l, d) }()
	out, err := exec.Command(qemuIO, "-f", "raw", "-c", "write -P 7 512 1024", "-c", "flush", "-c", "read -P 7 512 1024", "nbd+unix:///?socket="+socket).CombinedOutput()
	require.NoError(t, err, "%s", out)
	o := d.Cut()
	require.Equal(t, filled(1024, 7), o.Image[512:1536])
	require.Positive(t, o.Flushes)
}
