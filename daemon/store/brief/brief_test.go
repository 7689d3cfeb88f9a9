package brief

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"headroom/daemon/store/codec"
	"headroom/daemon/store/seriestest"
	"headroom/rules/frame"
)

const second = int64(1e9)

// TestWhatABucketSays against values worked out by hand.
func TestWhatABucketSays(t *testing.T) {
	var c codec.Columns
	for i, s := range []frame.Sample{
		{Value: 3, Status: frame.Good}, {Value: 5, Status: frame.Service}, {Value: 1000, Status: frame.Failed},
		{Value: math.NaN(), Status: frame.Good}, {Value: -1, Status: frame.Good},
	} {
		var f frame.Frame
		f.Samples[frame.Flow] = s
		c.Append(int64(i)*second/4-second/4, 0, &f)
	}
	bs := Of(&c, second)
	require.Len(t, bs, 2)
	require.EqualValues(t, -1, bs[0].Index, "before the start")
	require.Equal(t, Stat{Frames: 1, OK: 1, Seen: 1 << frame.Good, Min: 3, Max: 3, Mean: 3}, bs[0].Channels[frame.Flow])
	got := bs[1].Channels[frame.Flow]
	require.Equal(t, Stat{Frames: 4, OK: 2, Seen: 1<<frame.Good | 1<<frame.Failed | 1<<frame.Service, Min: -1, Max: 5, Mean: 2}, got)
	require.InDelta(t, 0.5, got.Share(), 0)
	require.Zero(t, bs[1].Channels[frame.WaterTemp])
	require.Zero(t, bs[1].Channels[frame.WaterTemp].Share())
}

// TestPartsAddUp: buckets of pieces, merged and made coarser, are those of the
// whole.
func TestPartsAddUp(t *testing.T) {
	fs := seriestest.Demo(t, 3000)
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 400).Draw(t, "n")
		from := rapid.IntRange(0, len(fs)-n).Draw(t, "from")
		cut := rapid.IntRange(0, n).Draw(t, "cut")
		var whole, a, b codec.Columns
		for i := range n {
			at := int64(from+i) * second / 10
			whole.Append(at, 0, &fs[from+i])
			if i < cut {
				a.Append(at, 0, &fs[from+i])
			} else {
				b.Append(at, 0, &fs[from+i])
			}
		}
		want := Of(&whole, 5*second)
		got := Coarser(Merge(Of(&b, second), Of(&a, second)), 5)
		require.Len(t, got, len(want))
		for i := range want {
			require.Equal(t, want[i].Index, got[i].Index)
			for ch := range want[i].Channels {
				x, y := want[i].Channels[ch], got[i].Channels[ch]
				require.InDelta(t, x.Mean, y.Mean, 1e-9*(1+math.Abs(x.Mean)))
				x.Mean, y.Mean = 0, 0
				require.Equal(t, x, y)
			}
		}
	})
}

func TestPackedBucketsHideNoExtreme(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var bs []Bucket
		for i := range rapid.IntRange(0, 20).Draw(t, "n") {
			b := Bucket{Index: int64(i * i)}
			for ch := range rapid.IntRange(0, 3).Draw(t, "channels") {
				s := Stat{Frames: rapid.Int64Range(1, 1e6).Draw(t, "frames"), Seen: rapid.Uint16().Draw(t, "seen")}
				if s.OK = rapid.Int64Range(0, s.Frames).Draw(t, "ok"); s.OK > 0 {
					s.Min = rapid.Float64Range(-1e9, 1e9).Draw(t, "min")
					s.Max = s.Min + rapid.Float64Range(0, 1e9).Draw(t, "more")
					s.Mean = s.Min + (s.Max-s.Min)/3
				}
				b.Channels[ch] = s
			}
			bs = append(bs, b)
		}
		packed := Append(nil, bs)
		got, ok := Read(packed)
		require.True(t, ok)
		require.Len(t, got, len(bs))
		for i := range bs {
			for ch := range bs[i].Channels {
				want, is := bs[i].Channels[ch], got[i].Channels[ch]
				require.Equal(t, want.Frames, is.Frames)
				require.Equal(t, want.OK, is.OK)
				require.LessOrEqual(t, is.Min, want.Min)
				require.GreaterOrEqual(t, is.Max, want.Max)
				require.InEpsilon(t, 1+math.Abs(want.Min), 1+math.Abs(is.Min), 4e-5)
				require.InEpsilon(t, 1+math.Abs(want.Max), 1+math.Abs(is.Max), 4e-5)
				require.InEpsilon(t, 1+math.Abs(want.Mean), 1+math.Abs(is.Mean), 4e-5)
			}
		}
		if len(packed) > 0 {
			packed[rapid.IntRange(0, len(packed)-1).Draw(t, "at")] ^= 1 << rapid.IntRange(0, 7).Draw(t, "bit")
			_, ok = Read(packed)
			require.False(t, ok)
		}
	})
}

func FuzzRead(f *testing.F) {
	f.Add(Append(nil, []Bucket{{Index: 3}}))
	f.Fuzz(func(t *testing.T, b []byte) {
		Read(b)
		sum := codec.Sum(b)
		Read(append(b[:len(b):len(b)], byte(sum), byte(sum>>8), byte(sum>>16), byte(sum>>24)))
	})
}

// TestSize says what the first level costs beside the frames.
func TestSize(t *testing.T) {
	fs := seriestest.Pump(t, 12000)
	var c codec.Columns
	for i := range fs {
		c.Append(int64(i)*second/10, 0, &fs[i])
	}
	packed := Append(nil, Of(&c, 30*second))
	perSample := float64(len(packed)) / float64(len(fs)*8)
	t.Logf("buckets of 30 s: %d bytes, %.4f bytes a sample", len(packed), perSample)
	require.Less(t, perSample, 0.02)
}
