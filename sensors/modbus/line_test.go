package modbus

import (
	"io"
	"net"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
)

// bubble connects a master and a meter of the units 1 and 2 by a pipe in a
// synctest bubble, where silences take no time.
func bubble(t *testing.T, do func(t *testing.T, l *line, m *meter)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		near, far := net.Pipe()
		m := &meter{registers: map[uint16]uint16{10: 0x0102, 11: 0x0304}}
		go m.serve(far, 1, 2)
		defer far.Close()
		defer near.Close()
		do(t, &line{port: near, baud: 9600, limit: 300 * time.Millisecond}, m)
	})
}

var q = request{unit: 1, table: Input, address: 10, count: 2}

func TestAskThroughFaults(t *testing.T) {
	for _, c := range []struct {
		fault string
		r     request
		err   error
		most  time.Duration
	}{
		{"", q, nil, 10 * time.Millisecond},
		{"echo", q, nil, 10 * time.Millisecond},
		{"noise", q, nil, 10 * time.Millisecond},
		{"split", q, nil, 30 * time.Millisecond},
		{"silent", q, ErrSilent, 320 * time.Millisecond},
		{"echo only", q, ErrSilent, 320 * time.Millisecond},
		{"", request{9, Input, 10, 2}, ErrSilent, 320 * time.Millisecond},
		{"short", q, ErrGarbled, 100 * time.Millisecond},
		{"bad crc", q, ErrGarbled, 100 * time.Millisecond},
		{"other unit", q, ErrOtherUnit, 320 * time.Millisecond},
		{"late", q, ErrSilent, 320 * time.Millisecond},
		{"", request{1, Input, 99, 2}, &Exception{2}, 10 * time.Millisecond},
	} {
		bubble(t, func(t *testing.T, l *line, m *meter) {
			m.set(c.fault)
			begin := time.Now()
			data, err := l.ask(c.r)
			require.LessOrEqual(t, time.Since(begin), c.most, c.fault)
			require.GreaterOrEqual(t, time.Since(begin), quietTime(9600), "3.5 characters of silence first")
			if c.err == nil {
				require.NoError(t, err, c.fault)
				require.Equal(t, []byte{1, 2, 3, 4}, data, c.fault)
				return
			}
			require.Equal(t, c.err, err, c.fault)
			require.True(t, recoverable(err))

			// Whatever it was, the next question is answered rightly.
			m.set("")
			time.Sleep(300 * time.Millisecond)
			data, err = l.ask(q)
			require.NoError(t, err, "after %q", c.fault)
			require.Equal(t, []byte{1, 2, 3, 4}, data, c.fault)
		})
	}
}

func TestPatience(t *testing.T) {
	for _, c := range []struct {
		fault string
		r     request
		tries int
		err   error
		asked int
		took  time.Duration
	}{
		{"first silent", q, 2, nil, 2, 620 * time.Millisecond},
		{"silent", q, 3, ErrSilent, 3, 3020 * time.Millisecond}, // 3 x 300 ms, rests of 300, 600 and 1200 ms
		{"busy", q, 2, &Exception{6}, 2, 930 * time.Millisecond},
		{"", request{1, Input, 99, 2}, 4, &Exception{2}, 1, 10 * time.Millisecond},
		{"late", q, 2, ErrSilent, 2, 1530 * time.Millisecond}, // the late answer to the first is not taken for the second's,
	} {
		bubble(t, func(t *testing.T, l *line, m *meter) {
			m.set(c.fault)
			begin := time.Now()
			_, err := l.askPatiently(t.Context(), c.r, c.tries)
			require.Equal(t, c.err, err, c.fault)
			require.Equal(t, c.asked, m.count(), c.fault)
			require.InDelta(t, float64(c.took), float64(time.Since(begin)), float64(60*time.Millisecond), c.fault)
		})
	}
}

func TestALineThatIsNeverSilent(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		near, far := net.Pipe()
		done := make(chan struct{})
		go func() {
			defer close(done)
			for {
				if _, err := far.Write([]byte{0x55}); err != nil {
					return
				}
				time.Sleep(time.Millisecond)
			}
		}()
		begin := time.Now()
		_, err := (&line{port: near, baud: 9600, limit: 300 * time.Millisecond}).ask(q)
		require.Equal(t, ErrNoisy, err)
		require.Less(t, time.Since(begin), time.Second)
		near.Close()
		<-done
	})
}

func TestAPortThatIsGoneIsNoSilence(t *testing.T) {
	bubble(t, func(t *testing.T, l *line, m *meter) {
		require.NoError(t, l.port.Close())
		_, err := l.askPatiently(t.Context(), q, 3)
		require.ErrorIs(t, err, io.ErrClosedPipe)
		require.False(t, recoverable(err))
	})
}
