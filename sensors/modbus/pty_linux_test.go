package modbus

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"headroom/rules/frame"
	"headroom/sensors"
)

// pty makes a pseudo-terminal: a real tty of the kernel for the master's side,
// and a file for the meter's.
func pty(t *testing.T) (far *os.File, path string) {
	t.Helper()
	far, err := os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK, 0)
	require.NoError(t, err)
	t.Cleanup(func() { far.Close() })
	require.NoError(t, control(far, func(fd int) error {
		n, err := unix.IoctlGetInt(fd, unix.TIOCGPTN)
		path = fmt.Sprintf("/dev/pts/%d", n)
		if err != nil {
			return err
		}
		return unix.IoctlSetPointerInt(fd, unix.TIOCSPTLCK, 0)
	}))
	return far, path
}

func TestDriverReadsAMeterOverATty(t *testing.T) {
	far, path := pty(t)
	m := &meter{registers: map[uint16]uint16{0: 2304, 1: 0x0d0a, 2: 0x1103}} // bytes that a cooked tty would change or eat
	go m.serve(far, 7)
	s := Serial{Path: path, Baud: 9600}
	d, err := New(Options{
		Name: "test", Open: s.Open, Baud: s.Baud, Period: 50 * time.Millisecond,
		Points: []Point{
			{Unit: 7, Table: Input, Register: 0, Type: U16, Scale: 0.1, Symbol: "V", Channel: frame.SupplyVoltage},
			{Unit: 7, Table: Holding, Register: 1, Type: U32, Scale: 1e-6, Symbol: "A", Channel: frame.MotorCurrent},
		},
	})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	got := make(chan sensors.Reading, 100)
	begin := time.Now()
	done := make(chan error, 1)
	go func() {
		done <- d.Run(ctx, func() time.Duration { return time.Since(begin) }, func(r sensors.Reading) { got <- r })
	}()
	for range 3 {
		v, a := <-got, <-got
		require.Empty(t, v.Note)
		require.Equal(t, frame.Good, v.Sample.Status)
		require.InDelta(t, 230.4, v.Sample.Value, 1e-9)
		require.InDelta(t, float64(0x0d0a1103)*1e-6, a.Sample.Value, 1e-9)
	}
	require.NoError(t, far.Close()) // the adapter is unplugged
	require.ErrorContains(t, <-done, "the serial line")
}

func TestOpenRefuses(t *testing.T) {
	_, err := Serial{Path: filepath.Join(t.TempDir(), "ttyX"), Baud: 9600}.Open()
	require.ErrorContains(t, err, "is the adapter plugged in")
	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o644))
	_, err = Serial{Path: file, Baud: 9600}.Open()
	require.ErrorContains(t, err, "it is no serial line")
	_, err = Serial{Path: file, Baud: 9601}.Open()
	require.ErrorContains(t, err, "9601 baud")
	_, err = Serial{Baud: 9600}.Open()
	require.ErrorContains(t, err, "has no path")
	_, err = Serial{Path: file, Baud: 9600, Parity: 9}.Open()
	require.ErrorContains(t, err, "parity 9")
}

// A pseudo-terminal has no parity, so the read-back must notice.
func TestASettingThatIsNotTakenIsNoticed(t *testing.T) {
	_, path := pty(t)
	_, err := Serial{Path: path, Baud: 9600, Parity: EvenParity}.Open()
	require.ErrorContains(t, err, "does not take 9600 baud with 8E1")
}

func TestTermios(t *testing.T) {
	for p, want := range map[Parity]uint32{
		NoParity: 0, EvenParity: unix.PARENB, OddParity: unix.PARENB | unix.PARODD, NoParityTwoStops: unix.CSTOPB,
	} {
		s := Serial{Path: "x", Baud: 19_200, Parity: p}
		got := s.termios()
		require.EqualValues(t, want|unix.CS8|unix.CREAD|unix.CLOCAL|unix.B19200, got.Cflag, p.String())
		require.Zero(t, got.Lflag|got.Oflag, "raw")
		back, ok := ParityByName(p.String())
		require.True(t, ok)
		require.Equal(t, p, back)
	}
	_, ok := ParityByName("7E1")
	require.False(t, ok)
	for _, b := range bauds {
		require.NotZero(t, speeds[b], "%d baud", b)
	}
}
