package calibrate

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// FuzzDecode: whatever a file holds, only valid calibrations come out of it,
// and those written anew read back the same.
func FuzzDecode(f *testing.F) {
	whole, err := appendEntry(nil, Calibration{Channel: "flow", Method: Zero, Points: []Point{{Raw: 1, Spread: 1}}, Margin: 1,
		Date: time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC), Who: "invented", ValidDays: 9})
	require.NoError(f, err)
	f.Add(whole)
	f.Add(append(whole[:len(whole):len(whole)], whole...))
	f.Add(whole[:40])
	f.Add([]byte("\n\n"))
	f.Add([]byte(`{"prev":"","hash":"44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a","entry":null}` + "\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		all, bad := decode(data, "flow")
		require.True(t, len(data) == 0 || len(all)+len(bad) > 0)
		var again []byte
		for i := range all {
			require.NoError(t, all[i].Validate())
			again, err = appendEntry(again, all[i])
			require.NoError(t, err)
		}
		back, bad := decode(again, "flow")
		require.Empty(t, bad)
		require.Equal(t, all, back)
	})
}
