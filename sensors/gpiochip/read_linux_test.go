package gpiochip

import (
	"encoding/binary"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

func record(at uint64, id, seq, lineSeq uint32) []byte {
	b := make([]byte, eventSize)
	binary.NativeEndian.PutUint64(b, at)
	binary.NativeEndian.PutUint32(b[8:], id)
	binary.NativeEndian.PutUint32(b[16:], seq)
	binary.NativeEndian.PutUint32(b[20:], lineSeq)
	return b
}

// pipe stands for the kernel's line file: what is written is what it gives.
func pipe(t *testing.T) (*input, *os.File) {
	t.Helper()
	var fds [2]int
	require.NoError(t, unix.Pipe2(fds[:], unix.O_NONBLOCK|unix.O_CLOEXEC))
	w := os.NewFile(uintptr(fds[1]), "kernel")
	in := newInput(os.NewFile(uintptr(fds[0]), "gpiochip0 FLOW"))
	t.Cleanup(func() { w.Close(); in.Close() })
	return in, w
}

func TestReadGivesEventsAndKeepsItsDeadline(t *testing.T) {
	in, w := pipe(t)
	buf := make([]Event, 2)
	n, err := in.Read(buf, time.Millisecond)
	require.NoError(t, err)
	require.Zero(t, n)

	for i := range uint32(3) {
		_, err = w.Write(record(1000*uint64(i), 1+i%2, 7+i, 9+i))
		require.NoError(t, err)
	}
	n, err = in.Read(buf, time.Second)
	require.NoError(t, err)
	require.Equal(t, 2, n)
	require.Equal(t, Event{At: 0, Rising: true, Seq: 7, LineSeq: 9}, buf[0])
	require.Equal(t, Event{At: 1000, Rising: false, Seq: 8, LineSeq: 10}, buf[1])
	n, err = in.Read(buf, time.Second)
	require.NoError(t, err)
	require.Equal(t, 1, n)

	_, err = in.Read(buf, 0)
	require.ErrorContains(t, err, "must be above 0")
	_, err = in.Read(nil, time.Second)
	require.ErrorContains(t, err, "must be above 0")
}

func TestReadSaysWhenTheChipIsGone(t *testing.T) {
	in, w := pipe(t)
	require.NoError(t, w.Close())
	_, err := in.Read(make([]Event, 1), time.Second)
	require.ErrorContains(t, err, "cannot read events")
}

func TestCloseWakesTheReader(t *testing.T) {
	in, _ := pipe(t)
	done := make(chan error)
	go func() { _, err := in.Read(make([]Event, 1), time.Minute); done <- err }()
	require.NoError(t, in.Close())
	require.Error(t, <-done, "whether it waited already or came too late")
	_, err := in.Value()
	require.Error(t, err, "a closed line has no level")
}

func TestNowIsTheMonotonicClock(t *testing.T) {
	in, _ := pipe(t)
	var ts unix.Timespec
	require.NoError(t, unix.ClockGettime(unix.CLOCK_MONOTONIC, &ts))
	a, b := in.Now(), in.Now()
	require.GreaterOrEqual(t, a, time.Duration(ts.Nano()))
	require.GreaterOrEqual(t, b, a)
}

func FuzzDecodeEvents(f *testing.F) {
	f.Add(record(1, 1, 1, 1))
	f.Add(record(1<<40, 2, 0xffffffff, 0xffffffff))
	f.Add(record(1, 3, 1, 1))
	f.Add([]byte("short"))
	f.Fuzz(func(t *testing.T, b []byte) {
		dst := make([]Event, 4)
		n, err := decodeEvents(dst, b)
		if err == nil && n != min(4, len(b)/eventSize) {
			t.Fatalf("%d events out of %d bytes", n, len(b))
		}
		for i, e := range dst[:n] {
			id := uint32(eventIsFalling)
			if e.Rising {
				id = eventIsRising
			}
			back := record(uint64(e.At), id, e.Seq, e.LineSeq)
			for _, at := range []int{0, 8, 16, 20} {
				if string(back[at:at+4]) != string(b[i*eventSize+at:][:4]) {
					t.Fatalf("event %d reads back differently", i)
				}
			}
		}
	})
}
