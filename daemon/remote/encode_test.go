package remote

import (
	"math"
	"strings"
	"testing"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/daemon/config"
	"headroom/daemon/metrics"
	"headroom/daemon/snapshot"
	"headroom/daemon/store"
)

// TestV1Bytes holds the encoding against bytes worked out by hand. Source:
// Prometheus Remote-Write 1.0 specification (field numbers) and Protocol
// Buffers documentation, "Encoding" (tags, lengths, varints).
func TestV1Bytes(t *testing.T) {
	for _, c := range []struct {
		source string
		in     []series
		want   []byte
	}{
		{"spec: an empty message is no bytes", nil, nil},
		{
			"field 1 LEN of field 1 LEN {1 LEN name, 2 LEN value} and field 2 LEN {1 I64, 2 VARINT}",
			[]series{{[]label{{"a", "b"}}, []sample{{300, 1}}}},
			[]byte{
				0x0a, 22, 0x0a, 6, 0x0a, 1, 'a', 0x12, 1, 'b',
				0x12, 12, 0x09, 0, 0, 0, 0, 0, 0, 0xf0, 0x3f, 0x10, 0xac, 0x02,
			},
		},
	} {
		require.Equal(t, c.want, encodeV1(c.in), c.source)
	}
}

func drawSeries(t *rapid.T) []series {
	text := rapid.StringN(1, 12, -1)
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) series {
		s := series{labels: []label{{nameLabel, text.Draw(t, "name")}, {"machine", text.Draw(t, "machine")}}}
		ms := rapid.Int64Range(-1e12, 2e12).Draw(t, "ms")
		for range rapid.IntRange(1, 5).Draw(t, "n") {
			ms += rapid.Int64Range(1, 1e6).Draw(t, "step")
			s.samples = append(s.samples, sample{ms, rapid.Float64().Draw(t, "value")})
		}
		return s
	}), 1, 8).Draw(t, "series")
}

func TestWhatIsEncodedComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := drawSeries(t)
		got, err := decodeV1(encodeV1(all))
		require.NoError(t, err)
		require.Equal(t, all, got)
		packed, err := pack(all)
		require.NoError(t, err)
		got, err = unpack(packed)
		require.NoError(t, err)
		require.Equal(t, all, got)
	})
}

// Halves hold every sample once, and cutting goes on until nothing can be cut.
func TestHalvesLoseNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := drawSeries(t)
		var cut func(all []series) int
		cut = func(all []series) int {
			first, second, ok := halves(all)
			if !ok {
				require.Len(t, all, 1)
				require.Len(t, all[0].samples, 1)
				return 1
			}
			require.NotZero(t, count(first))
			require.NotZero(t, count(second))
			require.Equal(t, count(all), count(first)+count(second))
			return cut(first) + cut(second)
		}
		require.Equal(t, count(all), cut(all))
	})
}

// What no machine's own sensors gave is marked, whatever the config says of a
// simulator: a scenario may run in its place, a playback on a real one's config.
func TestPracticeIsMarked(t *testing.T) {
	simulator, real := &config.Config{}, &config.Config{}
	simulator.Simulator.On = true
	for _, c := range []struct {
		readings store.Readings
		cfg      *config.Config
		want     string
	}{
		{store.FromSensors, real, ""},
		{store.FromSimulator, real, simulatedLabel},
		{store.FromPlayback, real, playbackLabel},
		{store.FromPlayback, simulator, playbackLabel},
		{store.FromSensors, simulator, ""},
		{store.NotTold, simulator, simulatedLabel},
		{store.NotTold, real, ""},
		{store.NotTold, nil, ""},
	} {
		w := &walk{info: store.Info{Source: store.Source{Readings: c.readings}}, judge: &judge{cfg: c.cfg}}
		require.Equal(t, c.want, practiceOf(w), "%q", c.readings)
	}
}

func TestBatchLeavesOutWhatIsNoNumber(t *testing.T) {
	b := newBatch([]label{{machineLabel, "Jetter 1"}})
	b.add("x", 1, math.NaN())
	b.add("x", 1, math.Inf(1))
	b.add("x", 5, 1, "zone", "a")
	b.add("x", 5, 2, "zone", "a")
	b.add("x", 4, 3, "zone", "a")
	b.add("x", 6, 4, "zone", "a")
	require.Equal(t, 2, b.samples)
	require.Equal(t, []label{{nameLabel, "x"}, {machineLabel, "Jetter 1"}, {"zone", "a"}}, b.all[0].labels, "labels by name, as the protocol asks for")
	require.Equal(t, []sample{{5, 1}, {6, 4}}, b.all[0].samples)
	b.practice = simulatedLabel
	b.add("x", 7, 1, "zone", "a")
	require.Len(t, b.all, 2)
	require.Contains(t, b.all[1].labels, label{simulatedLabel, "yes"})
	(*batch)(nil).add("x", 1, 1)
}

func FuzzDecodeV1(f *testing.F) {
	f.Add([]byte{})
	f.Add(encodeV1([]series{{[]label{{"a", "b"}}, []sample{{1, 2}, {3, 4}}}}))
	f.Add([]byte{0x0a, 0xff, 0xff, 0xff, 0xff, 0x7f})
	f.Add([]byte{0x0a, 3, 0x12, 1, 0x09})
	f.Fuzz(func(t *testing.T, data []byte) {
		all, err := decodeV1(data)
		if err != nil {
			require.ErrorIs(t, err, errNoMessage)
			return
		}
		again, err := decodeV1(encodeV1(all))
		require.NoError(t, err)
		require.Equal(t, count(all), count(again))
	})
}

// Every name that is sent is one of the local metrics, or says that it is of a
// window.
func TestNamesAreThoseOfTheLocalMetrics(t *testing.T) {
	descs := make(chan *prometheus.Desc, 1000)
	metrics.New(snapshot.NewStore(), "", "sensors").Describe(descs)
	close(descs)
	local := ""
	for d := range descs {
		local += d.String()
	}
	for _, name := range Names() {
		if !strings.Contains(local, `"`+name+`"`) {
			require.Regexp(t, `_(min|max)_[a-z_]+$`, name)
		}
	}
	require.Greater(t, len(Names()), 30)
}
