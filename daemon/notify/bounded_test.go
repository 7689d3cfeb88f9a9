package notify

import (
	"bufio"
	"bytes"
	"context"
	"io"
	"net"
	"testing"
	"testing/iotest"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// A server that names the longest packet there is must be left at once: room
// for it would be more than the whole program may take.
func TestMQTTLeavesABrokerWithEndlessPackets(t *testing.T) {
	for name, answer := range map[string][]byte{
		"the longest length": {pktConnack << 4, 0xff, 0xff, 0xff, 0x7f},
		"no length":          {pktConnack << 4, 0xff, 0xff, 0xff, 0xff, 0xff},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				far, near := net.Pipe()
				go func() {
					_, _, _, _ = readPacket(bufio.NewReader(far))
					_, _ = far.Write(answer)
				}()
				m, err := NewMQTT(MQTTOptions{Broker: "mqtt://broker.example", Topic: topic, Dial: func(context.Context, string, string) (net.Conn, error) { return near, nil }})
				require.NoError(t, err)
				ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
				defer cancel()
				began := time.Now()
				require.ErrorContains(t, m.Open(ctx), "longer than")
				require.Less(t, time.Since(began), 10*time.Second)
				require.NoError(t, far.Close())
			})
		})
	}
}

type readConn struct {
	net.Conn
	io.Reader
}

func (r readConn) Read(b []byte) (int, error) { return r.Reader.Read(b) }

// However the network cuts them, packets that are short enough come through.
func TestBoundedPassesWhatIsShortEnough(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var want []byte
		for range rapid.IntRange(0, 6).Draw(t, "packets") {
			n := rapid.OneOf(rapid.Just(0), rapid.IntRange(0, 300), rapid.IntRange(0, maxPacket)).Draw(t, "length")
			want = append(want, pktPuback<<4)
			for rest := n; ; rest >>= 7 {
				if rest < 0x80 {
					want = append(want, byte(rest))
					break
				}
				want = append(want, byte(rest)|0x80)
			}
			want = append(want, bytes.Repeat([]byte{0xff}, n)...)
		}
		var in io.Reader = bytes.NewReader(want)
		if rapid.Bool().Draw(t, "one by one") {
			in = iotest.OneByteReader(in)
		}
		got, err := io.ReadAll(newBounded(readConn{nil, in}))
		require.NoError(t, err)
		require.True(t, bytes.Equal(want, got))
	})
}
