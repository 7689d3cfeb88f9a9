package meter

import (
	"net"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestSum(t *testing.T) {
	for _, c := range []struct {
		name   string
		frame  []byte
		sum    uint16
		source string
	}{
		{"request", []byte{0x02, 0x07}, 0x1241, "Modbus over Serial Line V1.02, section 6.2.2: 02 07 41 12"},
		{"digits", []byte("123456789"), 0x4b37, "check value of CRC-16/MODBUS in public CRC catalogues, from memory"},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, c.sum, Sum(c.frame), c.source)
			require.Zero(t, Sum(seal(append([]byte(nil), c.frame...))))
		})
	}
}

// ask sends a request and returns what comes within a short time.
func ask(t *testing.T, m *Meter, request []byte) []byte {
	ours, theirs := net.Pipe()
	defer ours.Close()
	go m.Serve(theirs)
	require.NoError(t, ours.SetDeadline(time.Now().Add(5*time.Second)))
	_, err := ours.Write(request)
	require.NoError(t, err)
	require.NoError(t, ours.SetReadDeadline(time.Now().Add(100*time.Millisecond)))
	b := make([]byte, 300)
	n, _ := ours.Read(b)
	return b[:n]
}

func TestAnswers(t *testing.T) {
	m := New(1)
	m.Set(0, 0x1234, 0x5678)
	two := seal([]byte{1, 4, 0, 0, 0, 2})
	good := seal([]byte{1, 4, 4, 0x12, 0x34, 0x56, 0x78})
	for _, c := range []struct {
		name    string
		fault   Fault
		request []byte
		want    []byte
	}{
		{"two registers", Healthy, two, good},
		{"out of step before", Healthy, append([]byte{9}, two...), good},
		{"unknown register", Healthy, seal([]byte{1, 3, 0, 5, 0, 1}), seal([]byte{1, 0x83, 2})},
		{"no write", Healthy, seal([]byte{1, 6, 0, 5, 0, 1}), seal([]byte{1, 0x86, 1})},
		{"another unit is asked", Healthy, seal([]byte{2, 4, 0, 0, 0, 1}), []byte{}},
		{"silent", Silent, two, []byte{}},
		{"busy", Busy, two, seal([]byte{1, 0x84, 6})},
		{"short", Short, two, good[:4]},
		{"another unit answers", OtherUnit, two, seal([]byte{2, 4, 4, 0x12, 0x34, 0x56, 0x78})},
		{"echo", Echo, two, append(append([]byte(nil), two...), good...)},
	} {
		t.Run(c.name, func(t *testing.T) {
			m.Break(c.fault)
			require.Equal(t, c.want, ask(t, m, c.request))
		})
	}
	m.Break(BadSum)
	require.NotZero(t, Sum(ask(t, m, two)))
	m.Break(Garbage)
	require.NotZero(t, Sum(ask(t, m, two)))
}
