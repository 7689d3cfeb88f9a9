package modbus

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"headroom/sensors"
)

// Port is an open serial line. Read returns what is there and must keep the
// deadline, with an error that is os.ErrDeadlineExceeded; a file of Linux{} and
// a net.Conn both do.
type Port interface {
	io.ReadWriteCloser
	// SetDeadline bounds the reads and writes to come.
	SetDeadline(t time.Time) error
}

// What a transaction can end with besides an Exception. Any other error means
// that the port is gone.
var (
	// ErrSilent means that not one byte came.
	ErrSilent = errors.New("no answer: check wires A and B, the unit number, baud rate and parity")
	// ErrGarbled means that bytes came, but no whole frame with a good checksum.
	ErrGarbled = errors.New("the answer is short or its checksum wrong: check the termination, the shield, baud rate and parity")
	// ErrOtherUnit means that another unit answered.
	ErrOtherUnit = errors.New("another unit answered: check the unit numbers, and that there is one master only")
	// ErrNoisy means that the line never fell silent, so nothing could be asked.
	ErrNoisy = errors.New("the line is never silent: another master, a missing bias resistor or a wrong baud rate")
)

// recoverable reports whether the port is still good.
func recoverable(err error) bool {
	var e *Exception
	return errors.As(err, &e) || errors.Is(err, ErrSilent) || errors.Is(err, ErrGarbled) || errors.Is(err, ErrOtherUnit) || errors.Is(err, ErrNoisy)
}

// quietTime is the silence of 3.5 characters that ends and separates frames;
// above 19 200 baud it is fixed at 1.75 ms. A character has 11 bits. Source:
// Modbus over serial line V1.02, section 2.5.1.1.
func quietTime(baud int) time.Duration {
	if baud > 19_200 {
		return 1750 * time.Microsecond
	}
	return time.Duration(3.5 * 11 * float64(time.Second) / float64(baud))
}

// transmitTime is how long n characters of 11 bits take.
func transmitTime(n, baud int) time.Duration {
	return time.Duration(float64(n) * 11 * float64(time.Second) / float64(baud))
}

const (
	// splitTime is the longest pause inside a frame. A USB adapter with a
	// 16 ms latency timer is common (measured with an emulated one: 10 ms).
	splitTime = 50 * time.Millisecond
	// noisyTime is how long we wait for the line to fall silent.
	noisyTime = 500 * time.Millisecond
)

// line is the master's side of a port.
type line struct {
	port  Port
	baud  int
	limit time.Duration
	buf   [512]byte
}

// ask sends one request and returns the registers' bytes. limit counts from
// the end of the request to the first byte of the answer.
func (l *line) ask(r request) ([]byte, error) {
	if err := l.quiet(); err != nil {
		return nil, err
	}
	out := r.bytes()
	sent := time.Now().Add(transmitTime(len(out), l.baud))
	if err := l.port.SetDeadline(sent.Add(l.limit)); err != nil {
		return nil, fmt.Errorf("cannot use the serial line: %w", err)
	}
	if _, err := l.port.Write(out); errors.Is(err, os.ErrDeadlineExceeded) {
		return nil, fmt.Errorf("cannot send on the serial line: it takes no bytes: %w", err)
	} else if err != nil {
		return nil, fmt.Errorf("cannot send on the serial line: %w", err)
	}
	return l.answer(r, sent.Add(l.limit))
}

// quiet empties the line and waits until it has been silent for 3.5 characters.
func (l *line) quiet() error {
	end := time.Now().Add(noisyTime)
	for time.Now().Before(end) {
		if err := l.port.SetDeadline(time.Now().Add(quietTime(l.baud))); err != nil {
			return fmt.Errorf("cannot use the serial line: %w", err)
		}
		_, err := l.port.Read(l.buf[:])
		if errors.Is(err, os.ErrDeadlineExceeded) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("cannot listen to the serial line: %w", err)
		}
	}
	return ErrNoisy
}

// answer collects bytes until they hold an answer, or until there is none.
func (l *line) answer(r request, first time.Time) ([]byte, error) {
	n, deadline := 0, first
	for n < len(l.buf) {
		if err := l.port.SetDeadline(deadline); err != nil {
			return nil, fmt.Errorf("cannot use the serial line: %w", err)
		}
		m, err := l.port.Read(l.buf[n:])
		n += m
		v, data, code, _ := scan(r, l.buf[:n])
		switch {
		case v == answered:
			return append([]byte(nil), data...), nil
		case v == refused:
			return nil, &Exception{code}
		case errors.Is(err, os.ErrDeadlineExceeded):
			return nil, l.none(r, n, v)
		case err != nil:
			return nil, fmt.Errorf("cannot listen to the serial line: %w", err)
		}
		deadline = l.next(r, n, first)
	}
	return nil, ErrGarbled
}

// next is until when more may come: an echo or a little noise doesn't use up
// the unit's time, a frame that has begun must go on.
func (l *line) next(r request, n int, first time.Time) time.Time {
	rest := time.Now().Add(max(quietTime(l.baud), splitTime) + transmitTime(r.size(), l.baud))
	begun := n >= 4 && !bytes.HasPrefix(r.bytes(), l.buf[:n])
	if !begun && first.After(rest) {
		return first
	}
	return rest
}

func (l *line) none(r request, n int, v verdict) error {
	switch {
	case v == otherUnit:
		return ErrOtherUnit
	case n == 0 || bytes.Equal(l.buf[:n], r.bytes()):
		return ErrSilent
	}
	return ErrGarbled
}

// askPatiently repeats a failed request, each time after a longer pause. An
// exception is an answer and isn't repeated, except "still working" and "busy".
// After a failure the line rests a whole limit, so that a late answer can pass.
func (l *line) askPatiently(ctx context.Context, r request, tries int) (data []byte, err error) {
	for i := range tries {
		data, err = l.ask(r)
		var e *Exception
		if err == nil || !recoverable(err) || errors.As(err, &e) && e.Code != 5 && e.Code != 6 {
			return data, err
		}
		sensors.Pause(ctx, l.limit<<i)
	}
	return nil, err
}
